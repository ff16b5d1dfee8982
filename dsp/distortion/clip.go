package distortion

import (
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/level"
)

// Clip says where a record looks clipped.
type Clip struct {
	Samples int     // in the runs that look clipped
	Runs    int     // how many such runs
	Level   float64 // magnitude of the clipped samples, full scale 1
	First   int     // index of the first one, -1 for none
}

// Clipping looks for flat tops: runs of at least three equal samples at the
// highest or lowest value of x that are entered or left faster than a rounded
// crest of the record's own resolution would be. Records that stay below a
// thousandth of full scale do not count, nor does DC.
func Clipping(x []float64) Clip {
	const minimum, run = 1e-3, 3
	none := Clip{First: -1}
	c := Clip{First: -1, Level: level.Peak(x)}
	if c.Level < minimum {
		return none
	}
	high, low, step := slices.Max(x), slices.Min(x), resolution(x)
	for i := 0; i < len(x); {
		n := runLength(x[i:])
		if n >= run && (x[i] == high || x[i] == low) && abrupt(x, i, n, step) {
			if c.Runs == 0 {
				c.First = i
			}
			c.Runs++
			c.Samples += n
		}
		i += n
	}
	if c.Runs == 0 {
		return none
	}
	return c
}

// resolution returns the smallest distance between two values of x, of at most
// its first 65536: the step of a record of integers. It is taken as no coarser
// than that of eight bits.
func resolution(x []float64) float64 {
	const most, coarsest = 1 << 16, 1.0 / 128
	values := slices.Clone(x[:min(len(x), most)])
	slices.Sort(values)
	step := coarsest * level.Peak(values)
	for i := 1; i < len(values); i++ {
		if d := values[i] - values[i-1]; d > 0 {
			step = min(step, d)
		}
	}
	return step
}

// runLength returns how many samples from the first are equal to it.
func runLength(x []float64) int {
	n := 1
	for n < len(x) && x[n] == x[0] {
		n++
	}
	return n
}

// abrupt reports whether the run of n samples at i ends faster than a parabola
// that looks flat over n samples at the given resolution: two samples beyond its
// end that has fallen by ((n+4)/n)² steps, doubled here for rounding and noise.
func abrupt(x []float64, i, n int, step float64) bool {
	width := float64(n)
	natural := 2 * step * (1 + (width+4)*(width+4)/(width*width))
	before, after := i-2, i+n+1
	return before >= 0 && math.Abs(x[before]-x[i]) > natural ||
		after < len(x) && math.Abs(x[after]-x[i]) > natural
}

// String describes the finding as a warning.
func (c Clip) String() string {
	if c.Samples == 0 {
		return "no clipping seen"
	}
	return fmt.Sprintf("clipped: %d samples in %d runs at %.4g of full scale, first at sample %d", c.Samples, c.Runs, c.Level, c.First)
}
