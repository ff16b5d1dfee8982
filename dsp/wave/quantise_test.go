package wave

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestQuantisersAgreeToTheBit quantises noise by vectors and in plain Go, one and three
// channels, with and without dither, in blocks of every length, some of it out of range.
func TestQuantisersAgreeToTheBit(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	took := 0
	for _, f := range []Format{
		{Rate: 48000, Channels: 1, Bits: 24, ValidBits: 24},
		{Rate: 48000, Channels: 3, Bits: 16, ValidBits: 12},
		{Rate: 48000, Channels: 1, Bits: 32, ValidBits: 32},
		{Rate: 48000, Channels: 1, Bits: 8, ValidBits: 8},
	} {
		for _, bare := range []bool{false, true} {
			fast, slow := newQuantiser(f, Options{Seed: 3, NoDither: bare}), newQuantiser(f, Options{Seed: 3, NoDither: bare})
			for range 40 {
				n := 1 + rng.IntN(900)
				src := make([][]float64, f.Channels)
				for c := range src {
					src[c] = make([]float64, n)
					for i := range src[c] {
						src[c][i] = 0.4 * rng.NormFloat64()
					}
				}
				if bad := fast.block(src); bad != nil {
					t.Fatal(bad)
				}
				slow.out.Data = slow.out.Data[:n*f.Channels]
				for c := range src {
					var to [quantised]int64
					took += ditherVectors(&to, src[c][:min(n, quantised)], 1, 8, 1)
					if bad := slow.plain(c, 0, src[c]); bad != nil {
						t.Fatal(bad)
					}
				}
				if !slices.Equal(fast.out.Data, slow.out.Data) {
					t.Fatalf("%v: the two differ", f)
				}
			}
			if fast.clipped == 0 || fast.clipped != slow.clipped {
				t.Errorf("%v: %d clipped by vectors, %d in plain Go", f, fast.clipped, slow.clipped)
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
