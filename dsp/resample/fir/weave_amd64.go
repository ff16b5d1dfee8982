package fir

import "golang.org/x/sys/cpu"

// deinterleaveVector does as much of Deinterleave as vector instructions can and returns
// how many samples of even that was.
func deinterleaveVector(even, odd, src []float64) int {
	n := len(even) &^ 3
	if n == 0 || !cpu.X86.HasAVX2 {
		return 0
	}
	deinterleaveAVX(&even[0], &odd[0], &src[0], n)
	return n
}

// interleaveVector does the same for Interleave.
func interleaveVector(dst, even, odd []float64) int {
	n := len(even) &^ 3
	if n == 0 || !cpu.X86.HasAVX2 {
		return 0
	}
	interleaveAVX(&dst[0], &even[0], &odd[0], n)
	return n
}

// deinterleaveAVX fills n samples of even and of odd, a multiple of 4.
//
//go:noescape
func deinterleaveAVX(even, odd, src *float64, n int)

// interleaveAVX takes n samples of even and of odd, a multiple of 4.
//
//go:noescape
func interleaveAVX(dst, even, odd *float64, n int)
