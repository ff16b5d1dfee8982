package render

import (
	"math"
	"testing"

	"quietcross/dsp/level"
	"quietcross/stage"
)

// TestSolversAgree renders a tone through a circuit without memory by both
// solvers at their own oversampling: the one follows the circuit in time, the
// other applies its law without aliases. They are compared up to 20 kHz, where the pass band
// of both ends: the 23rd harmonic lies on the slope of their filters, which differ there.
func TestSolversAgree(t *testing.T) {
	x := sine(1000, 0.9, 24000)
	for setting, bar := range map[stage.Setting]level.DB{stage.Bias(0): -139, stage.Bias(1.2): -139, stage.Held(0.1): -146} {
		static := renderSine(t, Options{Spec: idealSpec(), Solver: SolverStatic}, x, setting)
		dynamic := renderSine(t, Options{Spec: idealSpec(), Solver: SolverDynamic}, x, setting)
		difference := make([]float64, 9600)
		for n := range difference {
			difference[n] = dynamic[n+8000] - static[n+8000]
		}
		inBand := cut(difference, 48000)[960 : 9600-960]
		got := level.FromAmplitude(level.RMS(inBand) * math.Sqrt2)
		t.Logf("%v: %.1f dB re full scale", setting, got)
		if got > bar { // within 3 dB of the README's
			t.Errorf("%v: solvers differ by %.1f dB re full scale, want at most %v dB", setting, got, bar)
		}
	}
}

func sine(frequency, peak float64, frames int) []float64 {
	x := make([]float64, frames)
	for n := range x {
		x[n] = peak * math.Sin(2*math.Pi*frequency*float64(n)/48000)
	}
	return x
}

func renderSine(t *testing.T, o Options, x []float64, setting stage.Setting) []float64 {
	t.Helper()
	o.Drive, o.Match = new(float64(idealDrive)), MatchOff
	bench, err := NewBench(o)
	if err != nil {
		t.Fatal(err)
	}
	clip, err := bench.Render(t.Context(), [][]float64{x}, 48000, 0, setting)
	if err != nil {
		t.Fatal(err)
	}
	return clip.Output[0]
}

// TestSolverIsChosenByTheCircuit renders a stage without memory and one with a
// coupling capacitor, and reads back which solver was taken.
func TestSolverIsChosenByTheCircuit(t *testing.T) {
	for name, want := range map[string]Solver{"pair-12w": SolverStatic, "single-capacitor": SolverDynamic} {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		_, m := run(t, []Source{material(t, "tone")}, Options{
			Spec: spec, Settings: []stage.Setting{stage.AsBuilt()}, Levels: []level.DB{-20},
		})
		if m.Solver != string(want) {
			t.Errorf("%s: solved by %q, want %q", name, m.Solver, want)
		}
		steps := m.Items[0].Renderings[0].Steps
		if inTime := want == SolverDynamic; (steps != nil) != inTime {
			t.Errorf("%s: steps %+v", name, steps)
		} else if inTime && steps.Taken*stage.StepSamples < m.Items[0].Frames*DynamicOversample {
			t.Errorf("%s: %d steps for %d frames", name, steps.Taken, m.Items[0].Frames)
		}
	}
}

// TestInvertingStageIsTurnedBack passes a tone through a law that inverts: the
// rendering has the reference's polarity and level, and nothing is left over.
func TestInvertingStageIsTurnedBack(t *testing.T) {
	item := renderLinear(t, -0.8, MatchGain)
	r := item.Renderings[0]
	if !r.Inverted || math.Abs(r.Gain+0.8) > 1e-12 {
		t.Errorf("inverted %v, gain %g; want true, -0.8", r.Inverted, r.Gain)
	}
	if got, want := float64(r.Applied), -20*math.Log10(0.8); math.Abs(got-want) > 1e-9 {
		t.Errorf("applied %g dB, want %g", got, want)
	}
	if r.Residual.Level > -140 {
		t.Errorf("residual %.1f dB, want at most -140 dB", r.Residual.Level)
	}
}

// benchOf returns a bench for a built-in stage.
func benchOf(t *testing.T, name string, match Match) *Bench {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	bench, err := NewBench(Options{Spec: spec, Match: match})
	if err != nil {
		t.Fatal(err)
	}
	return bench
}

// TestDynamicReferenceHoldsTheLinearResponse renders a mismatched stage with a
// coupling capacitor and a transformer, whose response is far from flat: against
// its own linear response what a small signal leaves over is distortion alone, and
// its offset at rest is not in the reference.
func TestDynamicReferenceHoldsTheLinearResponse(t *testing.T) {
	bench := benchOf(t, "single-capacitor", MatchGain)
	optimum := stage.Quiescent(bench.Ladder().Stage().OptimumQuiescent())
	low, high := sine(60, 0.4, 24000), sine(2000, 0.4, 24000)
	for n := range low {
		low[n] += high[n]
	}
	var residuals []level.DB
	for _, l := range []level.DB{-40, -60} {
		clip, err := bench.Render(t.Context(), [][]float64{low}, 48000, l, optimum)
		if err != nil {
			t.Fatal(err)
		}
		if offset := level.Mean(clip.Reference[0]); offset > 1e-3*l.Amplitude() {
			t.Errorf("%v dB: the reference rests at %g of full scale", l, offset)
		}
		residuals = append(residuals, clip.Residual)
	}
	t.Logf("residuals %.1f dB", residuals)
	// A second-order residual falls as the level does: 20 dB for 20 dB. A linear
	// one would stay.
	if fall := residuals[0] - residuals[1]; fall < 17 {
		t.Errorf("residuals %.1f dB: they fall by %.1f dB for 20 dB of level, as linear differences do", residuals, fall)
	}
}

// TestFaintSignalsAreLinear renders faint tones near the top of the band at the bias that
// the reference is taken at: they leave over no more than rounding and the circuit's own
// distortion, which falls as the level does: a lone transistor's second order, which is
// -43 dB at full drive, lies at -133 dB here. Where reference and stage split a step
// differently, as may happen at the edge of what is taken whole, they differ by rounding of
// the method, -155 dB re the tone.
func TestFaintSignalsAreLinear(t *testing.T) {
	for name, bar := range map[string]level.DB{"pair-12w-speaker": -153, "push-pull-divider": -128, "single-capacitor": -129} {
		bench := benchOf(t, name, MatchGain)
		optimum := stage.Quiescent(bench.Ladder().Stage().OptimumQuiescent())
		for _, frequency := range []float64{10e3, 15e3} {
			clip, err := bench.Render(t.Context(), [][]float64{sine(frequency, 0.9, 9600)}, 48000, -90, optimum)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s, %g Hz: residual %.1f dB", name, frequency, clip.Residual)
			if clip.Residual > bar {
				t.Errorf("%s, %g Hz: residual %.1f dB at -90 dB, want at most %v dB", name, frequency, clip.Residual, bar)
			}
		}
	}
}
