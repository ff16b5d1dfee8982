package hearing

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// Vector instructions add rows to the bit as plain Go does, at every length.
func TestRowsAgreeToTheBit(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 5))
	noise := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = random.NormFloat64()
		}
		return x
	}
	for n := range bandCount {
		dst, a, b := noise(n), noise(n), noise(n)
		got, want := slices.Clone(dst), slices.Clone(dst)
		addRows(got, a, b, 1.1, -0.7)
		for i := range want {
			want[i] += float64(1.1*a[i]) + float64(-0.7*b[i])
		}
		if !slices.Equal(got, want) {
			t.Errorf("%d bands: %v, want %v", n, got, want)
		}
	}
}
