package sweep

import (
	"math"
	"slices"
	"strings"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/reports/view/plot"
)

// The defaults are those that are documented.
func TestDefaults(t *testing.T) {
	o := DefaultOptions(builtin(t))
	if !slices.Equal(o.Frequencies, []float64{20, 1000, 6000}) || o.Workers != 2 {
		t.Errorf("%v Hz, %d workers", o.Frequencies, o.Workers)
	}
	for i, l := range o.Levels {
		if l != level.DB(-2*i) {
			t.Errorf("level %d is %g dB", i, float64(l))
		}
	}
	if len(o.Levels) != 31 {
		t.Errorf("%d levels", len(o.Levels))
	}
}

// What lies below a hundred-billionth of the fundamental is rounding.
func TestRounding(t *testing.T) {
	if a, b := percent(0.9e-11), percent(0); a != b {
		t.Errorf("%q, and nothing is %q", a, b)
	}
	if got := percent(1.1e-11); !strings.Contains(got, "1.10") {
		t.Errorf("1.1e-11 is %q", got)
	}
}

// An axis spans what its traces hold: a twentieth of their span beyond it where it is
// linear, a millionth where they span nothing, a fifth of the value where it is
// logarithmic, and no more than seven decades. Distortion is drawn between a millionth of a
// percent and 1000 %.
func TestSpans(t *testing.T) {
	for _, c := range []struct {
		axis   plot.Axis
		values []float64
		lo, hi float64
	}{
		{plot.Axis{}, []float64{0, 100}, -5, 105},
		{plot.Axis{}, []float64{1}, 1 - 1e-6, 1 + 1e-6},
		{plot.Axis{Log: true}, []float64{1, 10}, 1 / 1.2, 12},
		{plot.Axis{Log: true}, []float64{1e-9, 1}, 1e-7, 1.2},
		{distortionAxis(""), []float64{1e-9, 1}, 1e-6, 1.2},
		{distortionAxis(""), []float64{0.1, 1e4}, 0.1 / 1.2, 1000},
	} {
		a := c.axis
		if !span(&a, []plot.Trace{{Y: c.values}}, func(t plot.Trace) []float64 { return t.Y }) {
			t.Errorf("%v spans nothing", c.values)
		}
		if math.Abs(a.Lo-c.lo) > 1e-9*math.Abs(c.lo) || math.Abs(a.Hi-c.hi) > 1e-9*c.hi {
			t.Errorf("%v spans %g to %g, want %g to %g", c.values, a.Lo, a.Hi, c.lo, c.hi)
		}
	}
}

// What the axes call percent is percent: a tone whose harmonics have a hundredth of its
// fundamental is drawn at 1.
func TestFiguresArePercent(t *testing.T) {
	const hundredth = 0.01
	tone := bias.Tone{Output: 1}
	tone.THD, tone.OrderWeighted, tone.InBand = hundredth, hundredth, hundredth
	points := []Point{
		{Input: 1, Tones: []bias.Tone{tone}, TwoTone: bias.TwoTone{Modulation3: hundredth, Difference3: hundredth}},
		{Input: 2, Tones: []bias.Tone{tone}, TwoTone: bias.TwoTone{Modulation3: hundredth, Difference3: hundredth}},
	}
	points[1].Tones[0].Output = 2
	r := &Result{Grid: &Grid{Load: 8, Levels: []level.DB{0, -6}, Frequencies: []float64{1000}, Curves: []Curve{{Points: points}}}}
	figures := slices.Concat(r.harmonicFigures(), r.bandFigures(), r.twoToneFigures())
	if len(figures) < 5 {
		t.Fatalf("%d figures", len(figures))
	}
	for _, f := range figures {
		if y := f.Figure.Traces[0].Y; f.Figure.Y.Unit != "%" || !slices.Equal(y, []float64{1, 1}) {
			t.Errorf("%s: %v %s, want 1 %%", f.Figure.Name, y, f.Figure.Y.Unit)
		}
	}
}

// The table of values has nine significant digits.
func TestDigits(t *testing.T) {
	if got := number(100 * math.Pi); got != "314.159265" {
		t.Errorf("100 pi is %s", got)
	}
}

// What is legal at its ends, and beyond them.
func TestLegalEnds(t *testing.T) {
	for l, legal := range map[level.DB]bool{-120: true, -120.1: false, 40: true, 40.1: false} {
		o := DefaultOptions(builtin(t))
		o.Levels = []level.DB{l}
		if (o.check() == nil) != legal {
			t.Errorf("%g dB: %v", float64(l), o.check())
		}
	}
}
