package inspect

import (
	"math"
	"slices"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// The whole curve goes five percent beyond clipping, the near one two volts to either
// side, and powers from -36 dB up in steps of two.
func TestReaches(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	l, err := Look(spec, []stage.Setting{stage.Bias(1.1)})
	if err != nil {
		t.Fatal(err)
	}
	r := l.Rungs[0]
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"curve, low", r.Curve[0].In, 1.05 * r.ClipLow},
		{"curve, high", r.Curve[len(r.Curve)-1].In, 1.05 * r.ClipHigh},
		{"near, low", r.Near[0].In, -2},
		{"near, high", r.Near[len(r.Near)-1].In, 2},
		{"lowest power", r.Powers[0].Peak, l.Drive * math.Pow(10, -36.0/20)},
		{"next power", r.Powers[1].Peak, l.Drive * math.Pow(10, -34.0/20)},
		{"full power", r.Powers[len(r.Powers)-1].Peak, l.Drive},
	} {
		if math.Abs(c.got-c.want) > 1e-9*math.Abs(c.want) {
			t.Errorf("%s: %g V, want %g", c.name, c.got, c.want)
		}
	}
	for value, want := range map[float64]string{0.9e-6: "under 0.000001", -0.9e-6: "under 0.000001"} {
		if got := gain(value); got != want {
			t.Errorf("gain of %g: %q", value, got)
		}
	}
	if got := gain(1.1e-6); got == "under 0.000001" {
		t.Errorf("gain of 1.1e-6: %q", got)
	}
}

// A stage warms up for four time constants of its sink, a minute at least and two hours at
// most, passes a loud minute, and has half as long to quieten, again a minute at least.
func TestCourseOfTheDrift(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	for constant, want := range map[float64][2]float64{ // of the sink, s
		5: {60, 180}, 14: {60, 180}, 16: {64, 184}, 100: {400, 660}, 1790: {7160, 10800}, 1810: {7200, 10860}, 1e5: {7200, 10860},
	} {
		spec.Thermal.SinkStore = constant / spec.Thermal.SinkToAir
		r, st, drive := builtRung(t, spec)
		if err := r.drift(st, drive); err != nil {
			t.Fatal(err)
		}
		if got := r.Limits; math.Abs(got.Rested-want[0]) > 1e-9*want[0] || math.Abs(got.Quietened-want[1]) > 1e-9*want[1] {
			t.Errorf("a sink of %g s: warms up for %g s and is quiet at %g s, want %v", constant, got.Rested, got.Quietened, want)
		}
	}
}

// builtRung is a stage as built at its own drive, with nothing looked at.
func builtRung(t *testing.T, spec stage.Spec) (*Rung, *stage.Stage, float64) {
	t.Helper()
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		t.Fatal(err)
	}
	e, err := ladder.At(stage.AsBuilt())
	if err != nil {
		t.Fatal(err)
	}
	return &Rung{Evaluation: e}, st, ladder.Drive()
}

// The load that is held against the safe area has an angle of 45 degrees, and
// intermodulation is worked out 6 dB under the drive.
func TestAngleAndLevelOfTheLimits(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	l, err := Look(spec, []stage.Setting{stage.AsBuilt()})
	if err != nil {
		t.Fatal(err)
	}
	r := l.Rungs[0]
	steady, err := r.Biased().AtAngle(l.Drive, 45)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := r.Limits.Angle.Heat, steady.LoadLine(r.Limits.Case).Heat; math.Abs(got/want-1) > 1e-6 {
		t.Errorf("into 45 degrees %g W, the limits say %g W", want, got)
	}
	transient, err := r.Evaluation.Transient(l.Drive * math.Pow(10, -6.0/20))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]level.DB{{r.Limits.Transient.SquareTotal, transient.SquareTotal}, {r.Limits.Transient.DifferenceTotal, transient.DifferenceTotal}} {
		if got, want := c[0], c[1]; math.Abs(float64(got-want)) > 0.01 || want < -120 {
			t.Errorf("6 dB under the drive %g dB, the limits say %g", float64(want), float64(got))
		}
	}
}

// A load of 45 degrees is told of where a device in it takes five percent more than into a
// resistance and its junction alone passes its limit: what heats alike is told of once.
func TestEdgeOfOverheating(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		t.Fatal(err)
	}
	limit := spec.Thermal.MaximumJunction
	for _, c := range []struct {
		ratio, full, hotter float64 // junctions re the limit, K
		told                bool
	}{{1.06, 0, 1, true}, {1.04, 0, 1, false}, {1.06, 1, 1, false}, {1.06, 0, -1, false}} {
		r := Rung{Evaluation: &bias.Evaluation{}}
		r.ClipLow, r.ClipHigh = -1e3, 1e3
		r.Full.Junction = limit + c.full
		r.Limits.Line.Heat, r.Limits.Angle = 10, &stage.LoadLine{Heat: 10 * c.ratio}
		r.Limits.Case = limit + c.hotter - ladder.Stage().Chain().JunctionToCase*10*c.ratio
		r.broken(ladder)
		if told := len(r.Limits.Broken) > 0; told != c.told {
			t.Errorf("%+v: %q", c, r.Limits.Broken)
		}
	}
}

// A load line is told that uses more than all of the safe area, with the load that it is of.
func TestEdgeOfTheSafeArea(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	built, st, _ := builtRung(t, spec)
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		line, angle float64
		want        []Edge
	}{{0.99, 0.99, nil}, {1.01, 0.99, []Edge{SafeArea}}, {0.99, 1.01, []Edge{Reactive}}} {
		r := Rung{Evaluation: built.Evaluation}
		r.Limits.Line.Worst.Use, r.Limits.Angle = c.line, &stage.LoadLine{}
		r.Limits.Angle.Worst.Use = c.angle
		var got []Edge
		for _, b := range r.breaches(ladder) {
			got = append(got, b.Edge)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%g and %g of the area: %q, want %q", c.line, c.angle, got, c.want)
		}
	}
}

// A setting gaps whose gain falls under half of its maximum, of inputs up to 0.8 of
// clipping; the axis of the gain spans what the others have, by 0.4 % of it at least and 15 %
// to either side.
func TestEdgesOfTheGainAxis(t *testing.T) {
	rung := func(low, at float64) Rung {
		r := Rung{Evaluation: &bias.Evaluation{}, Near: []stage.Sample{{In: 0, Gain: 1}, {In: at, Gain: low}}}
		r.ClipLow, r.ClipHigh = -10, 10
		return r
	}
	for _, c := range []struct {
		low, at float64
		gaps    bool
	}{{0.51, 1, false}, {0.49, 1, true}, {0.49, 7.9, true}, {0.49, 8.1, false}} {
		r := rung(c.low, c.at)
		if got := (&Inspection{}).gaps(&r); got != c.gaps {
			t.Errorf("%+v: gaps %v", c, got)
		}
	}
	for low, want := range map[float64][2]float64{0.9: {0.9 - 0.015, 1.015}, 0.999: {0.999 - 0.0006, 1.0006}, 0.3: {0, 1.08}} {
		lo, hi := (&Inspection{Rungs: []Rung{rung(low, 1)}}).gainScale()
		if math.Abs(lo-want[0]) > 1e-12 || math.Abs(hi-want[1]) > 1e-12 {
			t.Errorf("gains from %g to 1: axis from %g to %g, want %v", low, lo, hi, want)
		}
	}
}
