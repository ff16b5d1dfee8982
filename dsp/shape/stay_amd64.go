package shape

import "golang.org/x/sys/cpu"

// stay does as much of segments from the i-th on, in fours or eights, as keeps to one cell, and
// returns how many segments that was; up to seven beyond them are overwritten. x begins with
// the five samples before that which ends the first. No sum is reordered and no product
// fused, so the bits are those of each.
func stay(p *parts, i int, x []float64, c *cell) (done int) {
	n := len(x) - 5
	if n < 4 || !hasVectors {
		return 0
	}
	if hasWide && n >= 8 {
		done = stayAVX512(&p[0][boxes-1+i], &x[0], n, c, &weights)
		if n -= done; n < 4 || n >= 8 || done%8 != 0 {
			return done
		}
	}
	return done + stayAVX(&p[0][boxes-1+i+done], &x[done], n, c, &weights)
}

// Which vectors the processor has: of four, and of eight.
var hasVectors, hasWide = cpu.X86.HasAVX2, cpu.X86.HasAVX512F

// weights holds what each multiplies by, four times each, in the order of the names in
// stay_amd64.s.
var weights = func() (w [17][4]float64) {
	for i, v := range [17]float64{
		curve1, curve2, curve3, bend1, bend2, bend3,
		0.5, outer, lean, 0.05, 0.125,
		outerSum, outerMiddle, outerDifference, innerSum, innerMiddle, innerDifference,
	} {
		w[i] = [4]float64{v, v, v, v}
	}
	return w
}()

// stayAVX takes n segments, at least four, of x. It puts the shares of each into four lanes,
// the first at p, as parts holds them.
//
//go:noescape
func stayAVX(p, x *float64, n int, c *cell, weights *[17][4]float64) int

// stayAVX512 does the same in eights, for n of eight at least.
//
//go:noescape
func stayAVX512(p, x *float64, n int, c *cell, weights *[17][4]float64) int

// gatherVectors does as much of gatherPlain as vector instructions can and returns how many
// samples that was.
func gatherVectors(dst []float64, p *parts) int {
	n := len(dst) &^ 3
	if n == 0 || !hasVectors {
		return 0
	}
	gatherAVX(&dst[0], &p[0][0], n)
	return n
}

// gatherAVX takes n samples, a multiple of 4, of lanes as parts holds them.
//
//go:noescape
func gatherAVX(dst, p *float64, n int)
