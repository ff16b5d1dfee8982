package report_test

import (
	"math"
	"testing"

	"quietcross/reports/internal/sample"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/dsp/weighting"
	"quietcross/reports/report"

	"quietcross/stage"
)

// The simple numbers are those of the law by which the set's own bench renders,
// and the class that of the stage's own power at the same peak.
func TestSineIsThatOfTheStage(t *testing.T) {
	dir := written(t, sample.Options{Programmes: 1, Rungs: 3, Seconds: 0.3, Rate: 48000}, func(string, *corpus.Manifest) {})
	set, err := render.Reopen(dir)
	if err != nil {
		t.Fatal(err)
	}
	r := build(t, dir, report.DefaultOptions())
	item := &r.Items[0]
	if want := item.Reference.Peak.Amplitude() * sample.Drive; math.Abs(item.Peak/want-1) > 1e-12 {
		t.Errorf("peak %g V, want %g", item.Peak, want)
	}
	for k := range item.Renderings {
		setting := r.Rungs[k].StageSetting()
		evaluation, err := set.Bench.Ladder().At(setting)
		if err != nil {
			t.Fatal(err)
		}
		want, err := evaluation.Simple(item.Peak)
		if err != nil {
			t.Fatal(err)
		}
		got := item.Renderings[k].Sine
		if got == nil {
			t.Fatalf("rung %d: none; warnings %q", k, item.Warnings)
		}
		near(t, "THD", got.THD, want.THD)
		near(t, "weighted THD", got.WeightedTHD, want.WeightedTHD)
		near(t, "order-weighted", got.OrderWeighted, want.OrderWeighted)
		if (got.Gm == nil) != (want.Gm == nil) {
			t.Errorf("rung %d: Gm %v, want %v", k, got.Gm, want.Gm)
		}
		biased, err := set.Bench.Ladder().Stage().Set(setting)
		if err != nil {
			t.Fatal(err)
		}
		power, err := biased.Power(item.Peak)
		if err != nil {
			t.Fatal(err)
		}
		minimum := 2 * math.Pi
		for _, o := range biased.Outputs() {
			minimum = min(minimum, power.Devices[o].Conduction)
		}
		if got.Class != power.Class {
			t.Errorf("rung %d: class %s, want %s", k, got.Class, power.Class)
		}
		near(t, "conduction angle", got.Conduction, minimum)
	}
	// Without bias each device leaves off before its half of the cycle is over.
	if first := item.Renderings[0].Sine; first.Class != stage.UnderBiased || first.Conduction > math.Pi {
		t.Errorf("without bias: class %s, %g radians", first.Class, first.Conduction)
	}
}

// near compares figures of two laws fitted to the same curve over different
// ranges.
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got/want-1) > 1e-4 {
		t.Errorf("%s %g, want %g", what, got, want)
	}
}

// The sample's programme is three lines of equal strength and its residual a line
// at 3 kHz, with one decay: the ratio through a weighting is that of the
// weighting's own values at the four frequencies.
func TestWeightedResidualOfLines(t *testing.T) {
	one := func(float64) float64 { return 1 }
	for k, rendering := range built(t).Items[1].Renderings {
		w := rendering.Weighted
		if w == nil {
			t.Fatal("none")
		}
		for name, c := range map[string]struct {
			response func(float64) float64
			got      float64
		}{
			"flat": {one, float64(w.Flat)},
			"A":    {weighting.ResponseA, float64(w.A)},
			"468":  {weighting.Response468, float64(w.Noise468)},
		} {
			programme := 0.0
			for _, f := range []float64{220, 277.2, 329.6} {
				programme += math.Pow(0.25/3*c.response(f), 2)
			}
			residual := 0.01 * sample.DeadBand(k) / 0.97 * c.response(sample.ResidueHertz)
			want := 10 * math.Log10(residual*residual/programme)
			if math.Abs(c.got-want) > 0.05 {
				t.Errorf("rung %d, %s: %.3f dB, want %.3f", k, name, c.got, want)
			}
		}
	}
}
