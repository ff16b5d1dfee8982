package shape

import "golang.org/x/sys/cpu"

// stay does as much of swing, in fours, as keeps to one cell, and returns how many samples
// of dst that was; up to three beyond them are overwritten. x begins with the three samples
// before those of dst. No sum is reordered and no product fused, so the bits are those of
// swing in plain Go.
func stay(dst, x []float64, c *cell, kept *float64) int {
	if len(dst) < 4 || !hasVectors {
		return 0
	}
	_ = x[len(dst)+2]
	return stayAVX(&dst[0], &x[0], len(dst), c, &gauss, kept)
}

var hasVectors = cpu.X86.HasAVX2

// gauss holds what Gauss's rule multiplies by in swing, in the order of its use.
var gauss = [7]float64{0.5, outer, 0.05, 0.125, 5. / 36, 8. / 36, outer * 5 / 18}

//go:noescape
func stayAVX(dst, x *float64, n int, c *cell, weights *[7]float64, kept *float64) int
