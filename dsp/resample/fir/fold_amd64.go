package fir

import "golang.org/x/sys/cpu"

// foldVector does as much of Fold as vector instructions can and returns how many
// samples of dst that was. No sum is reordered and no product fused, so the bits
// are those of foldScalar.
func foldVector(dst, left, right, taps []float64) int {
	m, n, done := len(taps), len(dst)&^3, 0
	if n == 0 || !cpu.X86.HasAVX {
		return 0
	}
	if wide := n &^ 31; wide > 0 && cpu.X86.HasAVX512F {
		foldAVX512(&dst[0], &left[m-1], &right[0], &taps[0], m, wide)
		done = wide
	}
	if done < n {
		foldAVX(&dst[done], &left[done+m-1], &right[done], &taps[0], m, n-done)
	}
	return n
}

// foldAVX fills n samples of dst, a multiple of 4. left points to the sample that
// meets the first of the m coefficients.
//
//go:noescape
func foldAVX(dst, left, right, taps *float64, m, n int)

// foldAVX512 does the same for a multiple of 32.
//
//go:noescape
func foldAVX512(dst, left, right, taps *float64, m, n int)
