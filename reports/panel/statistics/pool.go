package statistics

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Pooled is what a panel's thresholds come to.
type Pooled struct {
	N    int
	Mean float64 // weighted mean threshold of the population
	SE   float64 // its standard error
	// Interval is for the mean, from the t distribution with N-1 degrees of
	// freedom; infinite when N < 2.
	Interval Interval
	// Between is the standard deviation of true thresholds among listeners, the
	// spread of the estimates freed from their own uncertainty. 0 means that
	// the listeners need not differ, NaN that one listener cannot tell.
	Between  float64
	Median   float64
	Minimum  float64 // most sensitive listener
	Maximum  float64 // least sensitive listener
	Warnings []string
}

// Pool combines the thresholds of several listeners, each with the standard
// error of its estimate, by the random-effects moment estimator of DerSimonian
// and Laird (Controlled Clinical Trials 7:177, 1986). It returns an error when
// the slices differ in length or are empty, or when a threshold is not finite or
// a standard error not positive and finite.
func Pool(thresholds, errors []float64, level float64) (Pooled, error) {
	n := len(thresholds)
	if n == 0 || n != len(errors) {
		return Pooled{}, fmt.Errorf("statistics: %d thresholds with %d standard errors", n, len(errors))
	}
	for i, se := range errors {
		if x := thresholds[i]; math.IsNaN(x) || math.IsInf(x, 0) || !(se > 0) || math.IsInf(se, 0) {
			return Pooled{}, fmt.Errorf("statistics: listener %d: threshold %g with standard error %g", i+1, x, se)
		}
	}
	sorted := slices.Sorted(slices.Values(thresholds))
	p := Pooled{
		N: n, Median: quantile(sorted, 0.5), Minimum: sorted[0], Maximum: sorted[n-1], Between: math.NaN(),
		Interval: Interval{Lo: math.Inf(-1), Hi: math.Inf(1), Level: level},
	}
	if n < MinimumListeners {
		p.Warnings = append(p.Warnings, fmt.Sprintf("%d of the %d listeners that ITU-R BS.1116-3 asks for", n, MinimumListeners))
	}
	between := 0.0
	if n > 1 {
		between = betweenVariance(thresholds, errors)
		p.Between = math.Sqrt(between)
	}
	p.Mean, p.SE = weigh(thresholds, errors, between)
	if n > 1 {
		half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(1-(1-level)/2) * p.SE
		p.Interval.Lo, p.Interval.Hi = p.Mean-half, p.Mean+half
	}
	return p, nil
}

// weigh returns the mean weighted by the inverse of the whole variance, and its
// standard error.
func weigh(x, errors []float64, between float64) (mean, se float64) {
	sum, weight := 0.0, 0.0
	for i, e := range errors {
		w := 1 / (e*e + between)
		sum += w * x[i]
		weight += w
	}
	return sum / weight, 1 / math.Sqrt(weight)
}

// betweenVariance is the moment estimate of the variance among listeners.
func betweenVariance(x, errors []float64) float64 {
	mean, _ := weigh(x, errors, 0)
	q, w1, w2 := 0.0, 0.0, 0.0
	for i, e := range errors {
		w := 1 / (e * e)
		q += w * (x[i] - mean) * (x[i] - mean)
		w1 += w
		w2 += w * w
	}
	return max(0, (q-float64(len(x)-1))/(w1-w2/w1))
}
