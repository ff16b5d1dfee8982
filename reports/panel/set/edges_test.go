package set

import (
	"math"
	"slices"
	"testing"

	"quietcross/corpus"
	"quietcross/dsp/level"
)

// Thresholds are searched from a thousandth of the optimum to the optimum, where the
// residual of a pair falls all the way, at currents about an octave apart.
func TestRangeIsOfTheOptimum(t *testing.T) {
	c, err := Open(shortSet(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	optimum := c.set.Bench.Ladder().Stage().OptimumQuiescent()
	if lo, hi := c.Range("x"); math.Abs(lo*1000/optimum-1) > 1e-12 || hi != optimum {
		t.Errorf("%g to %g A at an optimum of %g", lo, hi, optimum)
	}
	at := c.spaced()
	for i := range at[1:] {
		if octaves := math.Log2(at[i+1] / at[i]); octaves < 0.9 || octaves > 1.1 {
			t.Errorf("%g and %g A are %g octaves apart", at[i], at[i+1], octaves)
		}
	}
	// Half a minute is heard whole, of more twelve seconds.
	item := *c.items[c.names[0]].Item
	rate := int64(item.Rate)
	for frames, want := range map[int64]int64{30 * rate: 30 * rate, 30*rate + 1: 12 * rate} {
		item.Frames = frames
		if _, got, err := c.stretch(&item); err != nil || got != want {
			t.Errorf("%d frames: %d are heard, %v", frames, got, err)
		}
	}
}

// A threshold is found to 2 % of a current, and not sooner than that asks for: each step is
// a rendering.
func TestToleranceOfACrossing(t *testing.T) {
	worst := 0.0
	for i := range 997 {
		edge := math.Exp2((float64(i) + 0.5) / 997)
		at, ok, err := crossing([]float64{1, 2}, []float64{9, 0}, func(q float64) (float64, error) {
			return map[bool]float64{true: 9}[q < edge], nil
		})
		if err != nil || !ok {
			t.Fatal(ok, err)
		}
		worst = max(worst, math.Abs(math.Log(at/edge)))
	}
	if worst > 0.02 || worst < 0.01 {
		t.Errorf("up to %g off", worst)
	}
}

// A second 50 dB under the loudest counts as quiet as that: what is quieter still is not
// chosen for its ratio.
func TestEdgeOfQuiet(t *testing.T) {
	for ratio, want := range map[float64]bool{0.09: true, 0.11: false} {
		signal, residual := slices.Repeat([]float64{1}, 60), make([]float64, 60)
		signal[10], residual[10] = 1e-8, 1e-6 // a tenth of what counts
		residual[50] = ratio
		if at := mostTelling(signal, residual); (at <= 10) != want {
			t.Errorf("a tenth against %g: from second %d", ratio, at)
		}
	}
}

// A rendering that lets nothing of the programme through is not the strongest.
func TestStrongestLetsThrough(t *testing.T) {
	item := &corpus.Item{Renderings: make([]corpus.Rendering, 3)}
	for i, l := range []float64{0, -40, -20} {
		item.Renderings[i].Residual.Level = level.DB(l)
	}
	if got := strongest(item); got != &item.Renderings[2] {
		t.Errorf("%+v", got.Residual)
	}
}

// No difference is imperceptible, 5, and the worst very annoying, 1 (ITU-R BS.1284-2, the
// five-grade scale; from memory).
func TestEndsOfTheGrades(t *testing.T) {
	if a, b := gradeOf(0), gradeOf(-4); a != 5 || b != 1 {
		t.Errorf("grades from %g to %g", a, b)
	}
}
