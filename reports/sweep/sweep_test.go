package sweep

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"testing"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
	"quietcross/stage"
)

func builtin(t testing.TB) stage.Spec {
	t.Helper()
	spec, err := stage.Lookup(stage.Builtin()[0].Name)
	if err != nil {
		t.Fatal(err)
	}
	return spec
}

// A point of the grid against the slow and obvious way: a tone sample by sample
// through the solved network, measured as a recording would be.
func TestGridAgainstSampledTone(t *testing.T) {
	spec := builtin(t)
	settings := []stage.Setting{stage.Bias(0), stage.Bias(1.1)}
	g, err := Run(t.Context(), Options{Spec: spec, Settings: settings, Levels: []level.DB{0, -20}, Frequencies: []float64{997}})
	if err != nil {
		t.Fatal(err)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	for i, setting := range settings {
		biased, err := st.Set(setting)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range g.Curves[i].Points {
			// 32 cycles of 512 samples: harmonics to 20 with little folded back.
			x := make([]float64, 32*512)
			for k := range 512 {
				out, _, err := biased.Transfer(p.Input * math.Cos(2*math.Pi*float64(k)/512))
				if err != nil {
					t.Fatal(err)
				}
				for c := range 32 {
					x[c*512+k] = out
				}
			}
			tone, err := distortion.Harmonics(x, 512*997)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "output", p.Output, tone.Fundamental.Amplitude(), 1e-4)
			for n := 3; n <= 9; n += 2 {
				near(t, "harmonic", math.Abs(p.Harmonics[n-2]), tone.Harmonics[n-2].Amplitude()/tone.Fundamental.Amplitude(), 0.01)
			}
		}
	}
}

// TestCircuitsWithMemory sweeps stages that are rendered in time: their midband law is
// swept, and behind a driver that inverts its gains are negative.
func TestCircuitsWithMemory(t *testing.T) {
	for _, row := range []struct {
		name string
		sign float64
	}{{"push-pull-divider", 1}, {"push-pull-driven", 1}, {"pair-12w-driven", -1}} {
		spec, err := stage.Lookup(row.name)
		if err != nil {
			t.Fatal(err)
		}
		g, err := Run(t.Context(), Options{Spec: spec, Settings: []stage.Setting{stage.AsBuilt()}, Levels: []level.DB{0, -20}})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range g.Curves[0].Points {
			if !(p.GainAtZero*row.sign > 0.1) || !(p.MinimumGain*row.sign > 0) || !(p.THD > 1e-5 && p.THD < 0.2) {
				t.Errorf("%s: %+v", row.name, p)
			}
		}
	}
}

func TestRunDefaults(t *testing.T) {
	g, err := Run(t.Context(), Options{Spec: builtin(t)})
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Curves) < 6 || len(g.Levels) != 31 || len(g.Frequencies) != 3 {
		t.Fatalf("%d biases, %d levels, %d frequencies", len(g.Curves), len(g.Levels), len(g.Frequencies))
	}
	for _, c := range g.Curves {
		if c.Refusal != "" || len(c.Points) != len(g.Levels) {
			t.Errorf("%s: %d points, refusal %q", c.Label, len(c.Points), c.Refusal)
		}
		for _, p := range c.Points {
			if !(p.THD >= 0) || !(p.Power >= 0) || len(p.InBand) != 3 || p.Clipped {
				t.Errorf("%s at %v dB: %+v", c.Label, p.Level, p)
			}
		}
	}
	if _, err := json.Marshal(g); err != nil {
		t.Error(err)
	}
}

func TestRunRefusals(t *testing.T) {
	spec := builtin(t)
	for name, o := range map[string]Options{
		"no stage":       {},
		"frequency 0":    {Spec: spec, Frequencies: []float64{0}},
		"frequency high": {Spec: spec, Frequencies: []float64{20001}},
		"level":          {Spec: spec, Levels: []level.DB{60}},
		"drive":          {Spec: spec, Drive: -1},
	} {
		if _, err := Run(t.Context(), o); err == nil {
			t.Errorf("%s was swept", name)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Run(ctx, Options{Spec: spec}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	// A bias beyond anything the stage survives is a refusal of its curve.
	g, err := Run(t.Context(), Options{Spec: spec, Settings: []stage.Setting{stage.Quiescent(1e6)}, Levels: []level.DB{0}})
	if err != nil || g.Curves[0].Refusal == "" {
		t.Errorf("a quiescent current of 1 MA: %v, %+v", err, g)
	}
}

func BenchmarkGrid(b *testing.B) {
	spec := builtin(b)
	var settings []stage.Setting
	for k := range 12 {
		settings = append(settings, stage.Quiescent(1e-4*math.Pow(2, float64(k))))
	}
	var levels []level.DB
	for k := range 30 {
		levels = append(levels, level.DB(-2*k))
	}
	for b.Loop() {
		if _, err := Run(b.Context(), Options{Spec: spec, Settings: settings, Levels: levels}); err != nil {
			b.Fatal(err)
		}
	}
}
