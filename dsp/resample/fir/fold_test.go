package fir

import (
	"math"
	"math/rand/v2"
	"testing"
)

// plain is Fold as its comment states it.
func plain(dst, left, right, taps []float64) {
	for i := range dst {
		dst[i] = 0
		for k, c := range taps {
			dst[i] += float64(c * (left[i+len(taps)-1-k] + right[i+k]))
		}
	}
}

func sameBits(t *testing.T, what string, got, want []float64) {
	t.Helper()
	for i := range want {
		if math.Float64bits(got[i]) != math.Float64bits(want[i]) {
			t.Fatalf("%s: sample %d is %g, want %g", what, i, got[i], want[i])
		}
	}
}

// TestFoldAgreesToTheBit compares the vector and the scalar way with the plain
// sum over every small size.
func TestFoldAgreesToTheBit(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	noise := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = rng.NormFloat64()
		}
		return x
	}
	for m := range 20 {
		for n := range 70 {
			left, right, taps := noise(n+m), noise(n+m), noise(m)
			want, got := make([]float64, n), make([]float64, n)
			plain(want, left, right, taps)
			Fold(got, left, right, taps)
			sameBits(t, "Fold", got, want)
			if m > 0 {
				foldScalar(got, left, right, taps)
				sameBits(t, "foldScalar", got, want)
			}
		}
	}
}

func TestFoldRefusesShortInput(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("read past the end of the input")
		}
	}()
	Fold(make([]float64, 8), make([]float64, 9), make([]float64, 10), make([]float64, 3))
}
