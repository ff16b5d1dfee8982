package statistics

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Estimate is a posterior mean with its standard deviation and central credible
// interval.
type Estimate struct {
	Mean, SD float64
	Interval Interval
}

// Threshold returns the estimate of the threshold: the location of the curve,
// where half of what can be gained over guessing is gained. The mean is the posterior's.
//
// The interval, of the given level, 0 < level < 1, is that of the profile likelihood,
// over spread and lapse rate, with a limit that is wider than that of large samples for
// listeners with a shallow curve (see [inflation]): a posterior averages over the spreads
// of its prior, so that its intervals hold far more than they say for steep listeners
// and less for shallow ones. An end in the outermost cell of the grid is infinite, for
// then the range of levels did not reach. SD is the posterior's standard deviation or, if
// larger, that of a normal distribution with such an interval.
func (a *Placement) Threshold(level float64) Estimate {
	half := a.prior.Step / 2
	e := summarise(a.thresholds, a.mass, half, level)
	e.Interval = a.profile(level)
	if w := e.Interval.Hi - e.Interval.Lo; !math.IsInf(w, 0) {
		e.SD = max(e.SD, w/2/distuv.UnitNormal.Quantile(1-(1-level)/2))
	}
	return e
}

// inflation is the ratio of the limit of the profile likelihood to that of large samples,
// for a listener of an estimated spread in dB. It was found by simulation
// (TestPlacementRecoversThresholds holds it): the answers are placed by what the earlier
// ones say, which makes a shallow curve look steeper than it is.
func inflation(spread float64) float64 {
	const from, to, least, most = 0.72, 4.0, 0.8, 2.85
	share := math.Log(spread/from) / math.Log(to/from)
	return least + (most-least)*min(max(share, 0), 1)
}

// profile is the interval of the profile likelihood at a level, above 0 and below 1.
func (a *Placement) profile(level float64) Interval {
	cell := len(a.prior.Spreads) * len(a.prior.Lapses)
	logs := make([]float64, len(a.thresholds))
	best := 0
	for t := range logs { // the prior is flat, so the posterior is the likelihood
		logs[t] = math.Log(slices.Max(a.posterior[t*cell:][:cell]))
		if logs[t] > logs[best] {
			best = t
		}
	}
	cut := logs[best] - distuv.ChiSquared{K: 1}.Quantile(level)/2*inflation(a.spread())
	return Interval{Lo: a.cross(logs, cut, best, -1), Hi: a.cross(logs, cut, best, 1), Level: level}
}

// cross is where the profile falls under cut from best on in a direction, infinite when
// it does not inside the grid.
func (a *Placement) cross(logs []float64, cut float64, best, direction int) float64 {
	for t := best; ; t += direction {
		next := t + direction
		if next < 0 || next >= len(logs) {
			return math.Inf(direction)
		}
		if logs[next] < cut {
			share := 1.0
			if fall := logs[t] - logs[next]; !math.IsInf(fall, 0) {
				share = (logs[t] - cut) / fall
			}
			return a.thresholds[t] + share*(a.thresholds[next]-a.thresholds[t])
		}
	}
}

// spread is the geometric mean of the curve's scale.
func (a *Placement) spread() float64 {
	ns, nl := len(a.prior.Spreads), len(a.prior.Lapses)
	sum := 0.0
	for i, m := range a.posterior {
		sum += m * math.Log(a.prior.Spreads[i/nl%ns])
	}
	return math.Exp(sum)
}

// Spread returns the geometric mean of the curve's scale, the standard
// deviation of its natural logarithm, and the central interval of the scale,
// which cannot leave the spreads of the prior.
func (a *Placement) Spread(level float64) Estimate {
	ns, nl := len(a.prior.Spreads), len(a.prior.Lapses)
	logs, mass := make([]float64, ns), make([]float64, ns)
	for i, m := range a.posterior {
		mass[i/nl%ns] += m
	}
	for i, s := range a.prior.Spreads {
		logs[i] = math.Log(s)
	}
	width := 0.0
	if ns > 1 {
		width = (logs[ns-1] - logs[0]) / float64(ns-1)
	}
	e := summarise(logs, mass, width, level)
	e.Mean = math.Exp(e.Mean)
	e.Interval.Lo, e.Interval.Hi = math.Exp(e.Interval.Lo), math.Exp(e.Interval.Hi)
	return e
}

// summarise treats the masses as uniform over cells of the given width about x.
func summarise(x, mass []float64, width, level float64) Estimate {
	if !(level > 0 && level < 1) {
		panic(fmt.Sprintf("statistics: interval level %g outside (0, 1)", level))
	}
	mean, square := 0.0, 0.0
	for i, m := range mass {
		mean += m * x[i]
	}
	for i, m := range mass {
		square += m * (x[i] - mean) * (x[i] - mean)
	}
	at := func(p float64) float64 {
		sum := 0.0
		for i, m := range mass {
			if sum+m >= p && m > 0 {
				return x[i] + width*((p-sum)/m-0.5)
			}
			sum += m
		}
		return x[len(x)-1] + width/2
	}
	tail := (1 - level) / 2
	return Estimate{
		Mean: mean, SD: math.Sqrt(square + width*width/12),
		Interval: Interval{Lo: at(tail), Hi: at(1 - tail), Level: level},
	}
}

// Clone returns a copy of the track that goes its own way.
func (a *Placement) Clone() *Placement {
	b := *a
	b.posterior = slices.Clone(a.posterior)
	b.weight, b.mass = slices.Clone(a.weight), slices.Clone(a.mass)
	return &b
}
