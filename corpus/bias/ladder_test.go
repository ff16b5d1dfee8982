package bias

import (
	"math"
	"testing"

	"quietcross/stage"
)

// at evaluates a built-in stage at a setting.
func at(t *testing.T, name string, setting stage.Setting) (*Ladder, *Evaluation) {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	l, err := NewLadder(st, nil)
	if err != nil {
		t.Fatal(err)
	}
	e, err := l.At(setting)
	if err != nil {
		t.Fatal(err)
	}
	return l, e
}

// TestPeriodicStateMeetsTheLaw asks the periodic state of a stage without memory for
// what its law gives: two ways to the same figures.
func TestPeriodicStateMeetsTheLaw(t *testing.T) {
	l, e := at(t, "pair-12w", stage.Bias(1.1))
	for _, part := range []float64{1, 0.1} {
		peak := part * l.Drive()
		want, err := e.Tone(997, peak)
		if err != nil {
			t.Fatal(err)
		}
		got, err := e.steadyTone(997, peak)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "output", got.Output, want.Output, 1e-6)
		near(t, "THD", got.THD, want.THD, 1e-3)
		for n := range 8 {
			if math.Abs(got.Harmonics[n]-want.Harmonics[n]) > 1e-7 {
				t.Errorf("order %d: %g, the law has %g", n+2, got.Harmonics[n], want.Harmonics[n])
			}
		}
		two, err := e.TwoTone(peak)
		if err != nil {
			t.Fatal(err)
		}
		steady, err := e.steadyTwoTone(peak)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "modulation", steady.Modulation3, two.Modulation3, 1e-3)
		near(t, "difference", steady.Difference3, two.Difference3, 1e-3)
	}
}

// TestALoopFailsAtHighFrequencies checks what the loop of limited bandwidth must do: its
// distortion rises with frequency, where the midband law has none of that.
func TestALoopFailsAtHighFrequencies(t *testing.T) {
	l, e := at(t, "pair-12w-feedback", stage.Quiescent(20e-3))
	tones, err := e.Tones([]float64{1000, 6000}, l.Drive())
	if err != nil {
		t.Fatal(err)
	}
	if !(tones[1].InBand > 2*tones[0].InBand) {
		t.Errorf("THD to 20 kHz %g at 1 kHz, %g at 6 kHz", tones[0].InBand, tones[1].InBand)
	}
	law, err := e.Law(1.5*l.Drive(), FigureTolerance)
	if err != nil {
		t.Fatal(err)
	}
	if midband := LawTone(law, 1000, l.Drive()).THD; !(tones[0].THD > 10*midband) {
		t.Errorf("THD %g at 1 kHz, %g of the midband law", tones[0].THD, midband)
	}
}
