package statistics

import (
	"math"
	"math/rand/v2"
	"testing"
)

// seeded returns the generator of a test and logs its seed.
func seeded(t testing.TB, seed uint64) *rand.Rand {
	t.Helper()
	t.Logf("seed %d", seed)
	return rand.New(rand.NewPCG(seed, 0))
}

// Proportion right at d' = 1 for 2, 3 and 4 alternatives: Green and Swets,
// Signal Detection Theory and Psychophysics, 1966, and Hacker and Ratcliff,
// Perception & Psychophysics 26:168, 1979; digits computed outside this
// project. Two alternatives have the closed form Φ(d/√2).
func TestAlternatives(t *testing.T) {
	for i, want := range []float64{.760250, .633702, .552031} {
		near(t, "proportion right", AlternativesCorrect(i+2, 1), want, 5e-7)
		near(t, "sensitivity", AlternativesSensitivity(i+2, AlternativesCorrect(i+2, 1.7)), 1.7, 1e-9)
		near(t, "chance", AlternativesCorrect(i+2, 0), 1/float64(i+2), 1e-12)
	}
	for d := range 5 {
		near(t, "two alternatives", AlternativesCorrect(2, float64(d)), math.Erfc(-float64(d)/2)/2, 1e-12)
	}
	if AlternativesSensitivity(3, .2) != 0 || !math.IsInf(AlternativesSensitivity(3, 1), 1) {
		t.Error("ends of the scale")
	}
}

// The triangle against its decision rule played out: three percepts, the odd
// one shifted by d'; right when the two equal ones lie closest together.
func TestTriangleAgainstItsDecisionRule(t *testing.T) {
	rng := seeded(t, 5)
	near(t, "chance", TriangleCorrect(0), GuessThree, 1e-12)
	const n = 200_000
	for _, d := range []float64{0, 1, 2.5} {
		right := 0
		for range n {
			a, b, odd := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()+d
			if same := math.Abs(a - b); same < math.Abs(a-odd) && same < math.Abs(b-odd) {
				right++
			}
		}
		p := TriangleCorrect(d)
		near(t, "triangle", float64(right)/n, p, 4*math.Sqrt(p*(1-p)/n))
		if d > 0 {
			near(t, "inverse", TriangleSensitivity(p), d, 1e-9)
		}
	}
	if TriangleSensitivity(.3) != 0 {
		t.Error("under chance")
	}
}
