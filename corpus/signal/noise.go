package signal

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// dice is a stream of random numbers that belongs to one source of noise.
type dice struct{ *rand.Rand }

// throw returns the stream called name under seed. Each name has a stream of
// its own, so that a change to one source leaves the others as they were.
func throw(seed uint64, name string) dice {
	h := fnv.New64a()
	h.Write([]byte(name))
	return dice{rand.New(rand.NewPCG(seed, h.Sum64()))}
}

// played returns the stream that the players' unsteadiness is drawn from. It is
// part of the score and does not depend on the caller's seed.
func played(name string) dice { return throw(0, "score: "+name) }

// around returns a number drawn evenly from centre ± spread.
func (d dice) around(centre, spread float64) float64 {
	return centre + spread*(2*d.Float64()-1)
}

// white returns n samples of white Gaussian noise of unit variance.
func (d dice) white(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = d.NormFloat64()
	}
	return x
}

// wander returns n samples of slow Gaussian drift of unit variance, low-passed
// at hz: the unsteadiness of a breath, a bow arm or a voice. It is drawn once
// every hop samples and joined by straight lines.
func (d dice) wander(n int, hz float64) []float64 {
	const hop = 64
	first := onePole{keep: math.Exp(-2 * math.Pi * hz * hop / scoreRate)}
	second := first
	a := first.keep
	gain := math.Sqrt(math.Pow(1-a*a, 3) / (math.Pow(1-a, 4) * (1 + a*a))) // both poles together
	slow := make([]float64, n/hop+2)
	for range int(2 * scoreRate / (hop * hz)) { // until settled
		second.step(first.step(d.NormFloat64()))
	}
	for i := range slow {
		slow[i] = gain * second.step(first.step(d.NormFloat64()))
	}
	x := make([]float64, n)
	for i := range x {
		at, u := i/hop, float64(i%hop)/hop
		x[i] = slow[at]*(1-u) + slow[at+1]*u
	}
	return x
}
