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
