package fir

import (
	"math/rand/v2"
	"testing"

	"golang.org/x/sys/cpu"
)

// TestFoldsOfEveryWidthAgree: a processor with the widest vectors takes the narrower ones
// for what is left over only; here they take a whole block.
func TestFoldsOfEveryWidthAgree(t *testing.T) {
	if !cpu.X86.HasAVX {
		t.Skip("this processor has no such instructions")
	}
	for _, m := range []int{1, 7, 8, 9, 16, 47, 48} {
		foldsAgree(t, 96, m)
	}
}

func foldsAgree(t *testing.T, n, m int) {
	rng := rand.New(rand.NewPCG(5, 5))
	left, right, taps := make([]float64, n+m-1), make([]float64, n+m-1), make([]float64, m)
	for _, x := range [][]float64{left, right, taps} {
		for i := range x {
			x[i] = rng.NormFloat64()
		}
	}
	want, got := make([]float64, n), make([]float64, n)
	foldScalar(want, left, right, taps)
	foldAVX(&got[0], &left[m-1], &right[0], &taps[0], m, n)
	sameBits(t, "foldAVX", got, want)
	if cpu.X86.HasAVX512F {
		clear(got)
		foldAVX512(&got[0], &left[m-1], &right[0], &taps[0], m, n)
		sameBits(t, "foldAVX512", got, want)
	}
}
