package statistics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Parameter names a fitted parameter of a curve.
type Parameter uint8

const (
	Threshold Parameter = iota // Curve.Location
	Spread                     // Curve.Scale
)

func (f *Fit) value(p Parameter) float64 {
	switch p {
	case Threshold:
		return f.Location
	case Spread:
		return math.Log(f.Scale)
	}
	panic(fmt.Sprintf("statistics: parameter %d", p))
}

// Profile returns the profile-likelihood interval of a parameter: the values at
// which twice the log likelihood, maximised over the other parameters, falls
// from its maximum value by no more than the quantile of χ² with one degree of
// freedom. An end that is not reached inside the bounds of the search is
// infinite (0 for the lower end of the spread).
func (f *Fit) Profile(p Parameter, level float64) Interval {
	if !(level > 0 && level < 1) {
		panic(fmt.Sprintf("statistics: interval level %g outside (0, 1)", level))
	}
	limit := -f.LogLikelihood + distuv.ChiSquared{K: 1}.Quantile(level)/2
	best := f.value(p)
	excess := func(v float64) float64 {
		fixed := free
		fixed[p] = v
		return f.search(fixed).loss - limit
	}
	out := Interval{
		Lo:    crossing(excess, best, f.box.lo[p]),
		Hi:    crossing(excess, best, f.box.hi[p]),
		Level: level,
	}
	if p == Spread {
		out.Lo, out.Hi = math.Exp(out.Lo), math.Exp(out.Hi)
	}
	return out
}

// crossing returns where excess passes zero between inner, where it is negative,
// and the bound; infinite when it does not.
func crossing(excess func(v float64) float64, inner, bound float64) float64 {
	if excess(bound) < 0 {
		return math.Inf(int(math.Copysign(1, bound-inner)))
	}
	for range 45 {
		mid := (inner + bound) / 2
		if excess(mid) < 0 {
			inner = mid
		} else {
			bound = mid
		}
	}
	return (inner + bound) / 2
}

// Bootstrap is what a parametric bootstrap says about a fit.
type Bootstrap struct {
	Runs      int
	Threshold Interval
	Spread    Interval
	// DevianceP is the share of simulated experiments that fit worse than the
	// data did. A small value says that the curve does not describe the answers.
	DevianceP float64
}

// Bootstrap simulates runs experiments from the fitted curve with the trials of
// the data, fits each with the same model, and returns percentile intervals at
// the given level and the Monte Carlo goodness of fit (Wichmann and Hill,
// Perception & Psychophysics 63:1293 and 1314, 2001). It panics unless runs is
// at least 40.
func (f *Fit) Bootstrap(rng *rand.Rand, runs int, level float64) Bootstrap {
	if runs < 40 {
		panic(fmt.Sprintf("statistics: bootstrap of %d runs, at least 40 needed", runs))
	}
	locations, scales := make([]float64, runs), make([]float64, runs)
	worse := 0
	points := slices.Clone(f.Points)
	for i := range runs {
		for j := range points {
			points[j].Right = binomial(rng, points[j].Trials, f.At(points[j].Level))
		}
		sim := Fit{Model: f.Model, Points: points, box: f.box}
		best := sim.descend(parameters{f.Location, math.Log(f.Scale), f.Lapse}, free)
		sim.Curve = sim.curve(best.at)
		locations[i], scales[i] = sim.Location, sim.Scale
		if sim.deviance() >= f.Deviance {
			worse++
		}
	}
	return Bootstrap{
		Runs:      runs,
		Threshold: percentiles(locations, level),
		Spread:    percentiles(scales, level),
		DevianceP: float64(worse) / float64(runs),
	}
}

func binomial(rng *rand.Rand, n int, p float64) int {
	k := 0
	for range n {
		if rng.Float64() < p {
			k++
		}
	}
	return k
}

func percentiles(x []float64, level float64) Interval {
	slices.Sort(x)
	tail := (1 - level) / 2
	return Interval{Lo: quantile(x, tail), Hi: quantile(x, 1-tail), Level: level}
}

// quantile interpolates linearly between the sorted values.
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-2)
	if i < 0 {
		return sorted[0]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
