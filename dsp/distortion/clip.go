package distortion

import (
	"fmt"
	"math"

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
	const least, run = 1e-3, 3
	none := Clip{First: -1}
	c := Clip{First: -1, Level: level.Peak(x)}
	if c.Level < least {
		return none
	}
	high, low, step := extremes(x)
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

// extremes returns the highest and lowest sample and the smallest step between
// neighbours that differ: the resolution of a record of integers.
func extremes(x []float64) (high, low, step float64) {
	high, low, step = x[0], x[0], math.Inf(1)
	for i, v := range x[1:] {
		high, low = max(high, v), min(low, v)
		if d := math.Abs(v - x[i]); d > 0 {
			step = min(step, d)
		}
	}
	return high, low, step
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
