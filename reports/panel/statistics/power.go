package statistics

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// How many listeners a study needs. A mean over listeners (of thresholds, or of grades) is
// held against a stated value by a two-sided t test; its power against a true difference
// is that of the noncentral t distribution. Odd-one-out answers at one level are counted
// together and held against guessing by the exact binomial test.

// PowerOfMean is the power of a two-sided t test of size alpha on the mean of n values,
// n >= 2, whose standard deviation is sd > 0 and whose mean differs by difference from the
// value tested: P(|T| > t) for a noncentral T, found by integrating the normal
// distribution over that of the sample's standard deviation (a chi distribution).
func PowerOfMean(n int, difference, sd, alpha float64) float64 {
	if n < 2 || !(sd > 0) {
		panic(fmt.Sprintf("statistics: power of %d values of standard deviation %g", n, sd))
	}
	checkProbability("alpha", alpha)
	freedom := float64(n - 1)
	limit := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(1 - alpha/2)
	shift := difference / sd * math.Sqrt(float64(n))
	spread := distuv.ChiSquared{K: freedom}
	given := func(s float64) float64 { // at a sample's standard deviation of s true ones
		density := 2 * freedom * s * spread.Prob(freedom*s*s)
		return density * (distuv.UnitNormal.CDF(shift-limit*s) + distuv.UnitNormal.CDF(-shift-limit*s))
	}
	const points = 200
	wide := 8 / math.Sqrt(2*freedom)
	return quad.Fixed(given, max(0, 1-wide), 1+wide, points, nil, 0)
}

// mostListeners bounds what is searched.
const mostListeners = 10_000

// ListenersForMean is the least number of listeners with whom [PowerOfMean] is at least
// power. It returns an error when more than 10,000 are needed.
func ListenersForMean(difference, sd, alpha, power float64) (int, error) {
	// More listeners have more power.
	n := 2 + sort.Search(mostListeners-1, func(i int) bool { return PowerOfMean(2+i, difference, sd, alpha) >= power })
	if n <= mostListeners {
		return n, nil
	}
	return 0, fmt.Errorf("statistics: power %g for a difference of %g at a standard deviation of %g needs more than %d listeners", power, difference, sd, mostListeners)
}

// ListenersForCount is the least number of listeners, with so many trials each, whose
// answers together find listeners right with probability right with at least that power
// by the exact binomial test of size alpha.
func ListenersForCount(trials int, guess, right, alpha, power float64) (int, error) {
	for n := 1; n*trials <= 100*mostListeners && n <= mostListeners; n++ {
		if NewPlan(n*trials, guess, alpha).Power(right) >= power {
			return n, nil
		}
	}
	return 0, fmt.Errorf("statistics: power %g against %g needs more than %d listeners of %d trials", power, right, mostListeners, trials)
}
