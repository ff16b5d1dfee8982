package fir

import "golang.org/x/sys/cpu"

// foldVector does as much of Fold as vector instructions can and returns how many
// samples of dst that was. No sum is reordered and no product fused, so the bits
// are those of foldScalar.
func foldVector(dst, left, right, taps []float64) int {
	n := len(dst) &^ 3
	if n == 0 || !cpu.X86.HasAVX {
		return 0
	}
	foldAVX(&dst[0], &left[len(taps)-1], &right[0], &taps[0], len(taps), n)
	return n
}

// foldAVX fills n samples of dst, a multiple of 4. left points to the sample that
// meets the first of the m coefficients.
//
//go:noescape
func foldAVX(dst, left, right, taps *float64, m, n int)
