package statistics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// MinimumListeners is the size of panel that ITU-R BS.1116-3 finds usually
// sufficient for conclusions from a test.
const MinimumListeners = 20

// Screening is the post-screening of one listener: could the listener tell the hidden
// reference from the anchor?
type Screening struct {
	N        int     // rounds
	Mean, SD float64 // of the anchor's grade less the hidden reference's
	T        float64 // mean over its standard error; 0 when N < 2
	Critical float64 // T must lie below this (a negative number)
	P        float64 // one-sided probability of T under a mean of zero
	// Exact is the probability of a mean as low as that if the listener had given the
	// grades of each round to its items by lot.
	Exact float64
	Kept  bool // both are at most the size
}

// A Round is what one listener gave in one round of grades.
type Round struct {
	Reference, Anchor float64   // grades of the hidden reference and of the anchor
	All               []float64 // grades of all items, those two among them
}

// ScreenRounds post-screens a listener after ITU-R BS.1116-3 by a one-sided t test, at
// the given size, of the anchor's grade less the hidden reference's against a mean of
// zero. A few rounds of grades are far from normal, so that a guesser can pass it more
// often than the size says; therefore the exact test by permutation of each round's
// grades has to be passed too. Fewer than two rounds never keep a listener.
func ScreenRounds(rounds []Round, alpha float64) Screening {
	checkProbability("alpha", alpha)
	differences := make([]float64, len(rounds))
	for i, r := range rounds {
		differences[i] = r.Anchor - r.Reference
	}
	s := screen(differences, alpha)
	s.Exact = exactRounds(rounds)
	s.Kept = s.Kept && s.Exact <= alpha
	return s
}

// screen is the one-sided t test.
func screen(differences []float64, alpha float64) Screening {
	n := len(differences)
	s := Screening{N: n, P: 1, Exact: 1}
	if n < 2 {
		return s
	}
	s.Mean, s.SD = stat.MeanStdDev(differences, nil)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}
	s.Critical = t.Quantile(alpha)
	switch {
	case s.SD > 0:
		s.T = s.Mean / (s.SD / math.Sqrt(float64(n)))
	case s.Mean != 0:
		s.T = math.Inf(int(math.Copysign(1, s.Mean)))
	}
	s.P = t.CDF(s.T)
	if math.IsInf(s.T, -1) {
		s.P = 0
	}
	s.Kept = s.T < s.Critical
	return s
}

// gradeStep is the step of the scale: a tenth.
const gradeStep = 0.1

// exactRounds is the probability that the sum over the rounds of the anchor's grade less
// the reference's is as low as it was, when both are drawn from the round's grades
// without replacement: a convolution on the steps of the scale.
func exactRounds(rounds []Round) float64 {
	steps := func(x float64) int { return int(math.Round(x / gradeStep)) }
	mass := map[int]float64{0: 1}
	seen := 0
	for _, r := range rounds {
		seen += steps(r.Anchor) - steps(r.Reference)
		next := map[int]float64{}
		pairs := float64(len(r.All) * (len(r.All) - 1))
		for i, a := range r.All {
			for j, b := range r.All {
				if i == j {
					continue
				}
				for at, m := range mass {
					next[at+steps(a)-steps(b)] += m / pairs
				}
			}
		}
		mass = next
	}
	p := 0.0
	for at, m := range mass {
		if at <= seen {
			p += m
		}
	}
	return min(1, p)
}

// Mean is a mean with its confidence interval from the t distribution.
type Mean struct {
	N        int
	Mean, SD float64
	Interval Interval // infinite when N < 2
	Warnings []string
}

// SummariseWithin is [Summarise] of values on a scale from lo to hi, which the interval
// does not leave: the mean lies on the scale, so that cutting the interval there takes
// nothing from its coverage.
func SummariseWithin(values []float64, lo, hi, level float64) Mean {
	m := Summarise(values, level)
	m.Interval.Lo, m.Interval.Hi = max(m.Interval.Lo, lo), min(m.Interval.Hi, hi)
	return m
}

// Summarise returns the mean of the values with its two-sided interval, as
// ITU-R BS.1116-3 and BS.1534-3 ask for each condition. Fewer values than
// [MinimumListeners] carry a warning. Without values the mean is NaN.
func Summarise(values []float64, level float64) Mean {
	n := len(values)
	m := Mean{N: n, Mean: math.NaN(), SD: math.NaN(), Interval: Interval{Lo: math.Inf(-1), Hi: math.Inf(1), Level: level}}
	if n < MinimumListeners {
		m.Warnings = append(m.Warnings, fmt.Sprintf("%d of the %d listeners that ITU-R BS.1116-3 asks for", n, MinimumListeners))
	}
	switch {
	case n == 1:
		m.Mean = values[0]
	case n > 1:
		m.Mean, m.SD = stat.MeanStdDev(values, nil)
		half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(1-(1-level)/2) * m.SD / math.Sqrt(float64(n))
		m.Interval.Lo, m.Interval.Hi = m.Mean-half, m.Mean+half
	}
	return m
}
