package fir

import "testing"

// TestWeave: every sample lands in its place, whatever the size, and the way back is the
// inverse. Values are their own positions.
func TestWeave(t *testing.T) {
	for n := range 70 {
		src := make([]float64, 2*n)
		for i := range src {
			src[i] = float64(i)
		}
		even, odd, back := make([]float64, n), make([]float64, n), make([]float64, 2*n)
		Deinterleave(even, odd, src)
		for i := range n {
			if even[i] != float64(2*i) || odd[i] != float64(2*i+1) {
				t.Fatalf("of %d: place %d holds %v and %v", n, i, even[i], odd[i])
			}
		}
		Interleave(back, even, odd)
		sameBits(t, "Interleave", back, src)
	}
}

func TestWeaveRefusesShortInput(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("read past the end of the input")
		}
	}()
	Deinterleave(make([]float64, 8), make([]float64, 8), make([]float64, 15))
}
