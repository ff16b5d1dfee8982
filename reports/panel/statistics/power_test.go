package statistics

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Least sample sizes of the one-sample two-sided t test, alpha 0.05, power 0.8, for the
// conventional effects of J. Cohen, Statistical Power Analysis for the Behavioral
// Sciences, 1988: 0.2, 0.5 and 0.8 standard deviations need 199, 34 and 15 (from memory);
// and the power against a simulation of the test, to four standard errors.
func TestListenersForMean(t *testing.T) {
	for effect, want := range map[float64]int{0.2: 199, 0.5: 34, 0.8: 15} {
		if n, err := ListenersForMean(effect, 1, 0.05, 0.8); err != nil || n != want {
			t.Errorf("effect %g: %d listeners %v, want %d", effect, n, err, want)
		}
	}
	rng := seeded(t, 51)
	const runs = 40_000
	for _, c := range []struct {
		n                 int
		difference, sd, a float64
	}{{2, 3, 1, 0.05}, {5, 2, 1.5, 0.05}, {12, 1, 1.3, 0.01}, {20, 0, 1, 0.05}, {20, -0.4, 0.7, 0.05}} {
		limit := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(c.n - 1)}.Quantile(1 - c.a/2)
		found, x := 0, make([]float64, c.n)
		for range runs {
			for i := range x {
				x[i] = c.difference + c.sd*rng.NormFloat64()
			}
			mean, sd := stat.MeanStdDev(x, nil)
			if math.Abs(mean)/sd*math.Sqrt(float64(c.n)) > limit {
				found++
			}
		}
		p := PowerOfMean(c.n, c.difference, c.sd, c.a)
		near(t, "power", p, float64(found)/runs, 4*math.Sqrt(p*(1-p)/runs)+1e-3)
	}
	if _, err := ListenersForMean(0, 1, 0.05, 0.8); err == nil {
		t.Error("no difference needs no number of listeners")
	}
}

// One listener of 16 trials, two alternatives, right with 0.6: a power of 1 - 0.8334 at 12
// right, size 0.0384 (Leventhal, JAES 34:437, 1986); and 158 trials for a power of 0.8
// (checked apart by the exact binomial sums): ten listeners of 16.
func TestListenersForCount(t *testing.T) {
	near(t, "power", NewPlan(16, 0.5, 0.05).Power(0.6), 1-0.8334, 5e-5)
	n, err := ListenersForCount(16, 0.5, 0.6, 0.05, 0.8)
	if err != nil || n < 10 || n > 11 {
		t.Errorf("%d listeners %v", n, err)
	}
	if n > 1 && NewPlan((n-1)*16, 0.5, 0.05).Power(0.6) >= 0.8 {
		t.Error("one fewer is enough")
	}
	if one, err := ListenersForCount(24, GuessThree, Discriminated(GuessThree, 0.5), 0.05, 0.8); err != nil || one != 1 {
		t.Errorf("%d listeners of a triangle test of 24 trials %v", one, err)
	}
}
