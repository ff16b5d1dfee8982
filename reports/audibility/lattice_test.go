package audibility

import (
	"context"
	"math"
	"slices"
	"testing"

	"quietcross/dsp/hearing"
)

// The lattice covers what is asked and no more than a step beyond, and does not depend on
// where a range begins; a finer one contains the coarser. Its five currents a decade are
// the R5 series of preferred numbers, ISO 3: 1, 1.6, 2.5, 4 and 6.3.
func TestLattice(t *testing.T) {
	r5 := []float64{1, 1.6, 2.5, 4, 6.3, 10}
	for i, got := range Lattice(1, 10, 5) {
		if math.Abs(got/r5[i]-1) > 0.02 {
			t.Errorf("%g, want %g", got, r5[i])
		}
	}
	wide := Lattice(1e-6, 1, 5)
	if len(wide) != 31 || wide[0] != 1e-6 || wide[30] != 1 {
		t.Errorf("six decades: %d from %g to %g", len(wide), wide[0], wide[len(wide)-1])
	}
	for _, low := range []float64{1e-5, 1.3e-5, 7e-4} {
		list := Lattice(low, 0.5, 5)
		if list[0] > low || list[1] < low || list[len(list)-1] < 0.5 || list[len(list)-2] > 0.5 {
			t.Errorf("from %g: %v", low, list)
		}
		for _, at := range list {
			if !slices.Contains(wide, at) {
				t.Errorf("from %g: %g is not of the lattice", low, at)
			}
		}
	}
	fine := Lattice(1e-6, 1, 20)
	for _, at := range wide {
		if !slices.ContainsFunc(fine, func(x float64) bool { return math.Abs(x/at-1) < 1e-12 }) {
			t.Errorf("%g is not of the finer lattice", at)
		}
	}
}

// patchy is a case whose fault shrinks as d' to d(quiescent) would, by its own size.
func patchy(d func(quiescent float64) float64) Case {
	return Case{Material: "tone", Open: func(context.Context) ([][]float64, Render, error) {
		clean := note(0.5, 0.1, 330)
		fault := hiss(len(clean), 0.01)
		return [][]float64{clean}, func(_ context.Context, quiescent float64) (Rendering, error) {
			test := slices.Clone(clean)
			for i := range test {
				test[i] += math.Sqrt(d(quiescent)) * fault[i]
			}
			return Rendering{Test: [][]float64{test}}, nil
		}, nil
	}}
}

// Searches over different ranges find the same threshold where what is heard falls,
// rises and falls again: the lowest crossing.
func TestOneThresholdWhateverTheRange(t *testing.T) {
	c := faulty(func(i float64) bool { return i < 3.5e-3 || i > 9e-3 && i < 0.1 })
	var first float64
	for i, ends := range [][2]float64{{1e-5, 1}, {1e-6, 0.5}, {2.7e-4, 0.33}, {1e-3, 0.02}} {
		f := examined(t, c, DefaultOptions(ends[0], ends[1]))
		if f.Threshold == nil {
			t.Fatalf("%v: none", ends)
		}
		if i == 0 {
			first = f.Threshold.Quiescent
		}
		if f.Threshold.Quiescent != first {
			t.Errorf("%v: %g A, want %g A", ends, f.Threshold.Quiescent, first)
		}
		if math.Abs(first/3.5e-3-1) > 0.03 {
			t.Errorf("%g A, want 3.5 mA", first)
		}
	}
}

// The interval's ends are where d' is the limit times and by the factor of the listener's
// interval: with a fault whose energy falls as the square of the current, the square root
// of that factor in current, and more for a listener who is known less well.
func TestIntervalOfAThreshold(t *testing.T) {
	c := patchy(func(i float64) float64 { return math.Pow(1e-3/max(i, 1e-4), 2) })
	o := DefaultOptions(1e-4, 1)
	last := 0.0
	for _, listener := range []hearing.Efficiency{{}, {Low: -4, High: 4, Trials: 10}} {
		o.Heard.Listener = listener
		f := examined(t, c, o)
		if f.Threshold == nil {
			t.Fatalf("no threshold: %s", f.Summary)
		}
		at, ends := f.Threshold.Quiescent, f.Threshold.Interval
		low, high := o.Heard.Interval(1)
		for _, e := range []struct{ got, want float64 }{{at / ends.Low, math.Sqrt(high)}, {ends.High / at, math.Sqrt(1 / low)}} {
			if math.Abs(e.got/e.want-1) > 0.1 || ends.Open {
				t.Errorf("listener %+v: %g times, want %g (%+v)", listener, e.got, e.want, ends)
			}
		}
		if ends.High/ends.Low < last {
			t.Errorf("a listener who is known less well has the interval %+v", ends)
		}
		last = ends.High / ends.Low
	}
	o.Heard.Listener, o.High = hearing.Efficiency{}, 0.02
	if f := examined(t, patchy(func(i float64) float64 { return map[bool]float64{true: 1e-1, false: 5e-5}[i < 1e-3] }), o); f.Threshold == nil || !f.Threshold.Interval.Open {
		t.Errorf("a curve that stays close under the limit: %+v", f.Threshold)
	}
}

// The limit is a probability of noticing: one half of it is 75 % right in two intervals,
// by the closed form of the two-interval task.
func TestLimitIsTheTwoIntervalTask(t *testing.T) {
	d := hearing.Sensitivity(DefaultLimit)
	if right := hearing.TwoIntervals.Correct(d); math.Abs(right-0.75) > 1e-9 {
		t.Errorf("d' %g is %g right", d, right)
	}
}
