package align

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// TestEdgeOfAMatch mixes a reference into noise so that their normalised correlation
// is ρ: under a quarter it counts as not found. The search takes the best of many
// places, so the margins are a few of its spread of 1/128.
func TestEdgeOfAMatch(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	reference := make([]float64, 1<<15)
	for i := range reference {
		reference[i] = 0.1 * r.NormFloat64()
	}
	for rho, found := range map[float64]bool{0.19: false, 0.31: true} {
		capture := make([]float64, len(reference))
		for i, v := range reference {
			capture[i] = rho*v + math.Sqrt(1-rho*rho)*0.1*r.NormFloat64()
		}
		if _, err := Align(reference, capture, Options{}); errors.Is(err, ErrNotFound) == found {
			t.Errorf("correlation %g: %v", rho, err)
		}
	}
}

// TestEdgeOfLength aligns, or refuses, what has 512 samples or one less.
func TestEdgeOfLength(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	for n, legal := range map[int]bool{minimumSamples: true, minimumSamples - 1: false} {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		if err := check("capture", x); (err == nil) != legal {
			t.Errorf("%d samples: %v", n, err)
		}
	}
	if minimumSamples != 512 {
		t.Error("the documented minimum is 512 samples")
	}
}
