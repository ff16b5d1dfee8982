package statistics

import (
	"fmt"
	"math"
	"slices"
)

// Estimate is a posterior mean with its standard deviation and central credible
// interval.
type Estimate struct {
	Mean, SD float64
	Interval Interval
}

// Threshold returns the estimate of the threshold: the location of the curve,
// where half of what can be gained over guessing is gained. The interval is
// central at the given level, 0 < level < 1; an end in the outermost cell of the
// grid is infinite, for then the range of levels did not reach.
func (a *Placement) Threshold(level float64) Estimate {
	half := a.prior.Step / 2
	e := summarise(a.thresholds, a.mass, half, level)
	if first := a.thresholds[0] + half/2; e.Interval.Lo <= first {
		e.Interval.Lo = math.Inf(-1)
	}
	if last := a.thresholds[len(a.thresholds)-1] - half/2; e.Interval.Hi >= last {
		e.Interval.Hi = math.Inf(1)
	}
	return e
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
