package render

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestUnpackingsAgreeToTheBit reads blocks of every short length by vectors and in plain Go,
// from code that ends where the block does.
func TestUnpackingsAgreeToTheBit(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	took := 0
	for _, c := range []coding{remains, whole} {
		for n := range 70 {
			block := make([]float64, n)
			for i := range block {
				block[i] = rng.NormFloat64()
			}
			code := slices.Clip(c.append(nil, 0.5, block))
			fast, slow := make([]float64, n), make([]float64, n)
			took += c.unpackVectors(fast, code, 0x1.23456p-20)
			c.unpack(fast, code, 0x1.23456p-20)
			c.unpackPlain(slow, code, 0x1.23456p-20, 0)
			if !slices.Equal(fast, slow) {
				t.Fatalf("%d integers of %d bytes: %g by vectors, %g in plain Go", n, c, fast, slow)
			}
		}
	}
	if !hasVectors {
		t.Skip("this processor has no vector instructions that are used: plain Go alone was tested")
	}
	if took == 0 {
		t.Error("no vectors were used")
	}
}
