package statistics

import (
	"fmt"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Chance rates of the forms of trial used here.
const (
	GuessTwo   = 1.0 / 2 // two alternatives
	GuessThree = 1.0 / 3 // three alternatives, and the triangle (odd one out)
)

// Interval is a confidence or credible interval at the given Level, 0..1. An
// end that the data do not bound is infinite.
type Interval struct {
	Lo, Hi, Level float64
}

// Contains reports whether x lies in the closed interval.
func (i Interval) Contains(x float64) bool { return i.Lo <= x && x <= i.Hi }

// Count is a number of right answers out of Trials independent trials at one
// stimulus level.
type Count struct {
	Right, Trials int
}

func (c Count) check() {
	if c.Trials < 0 || c.Right < 0 || c.Right > c.Trials {
		panic(fmt.Sprintf("statistics: count of %d right in %d trials", c.Right, c.Trials))
	}
}

func checkProbability(name string, p float64) {
	if !(p >= 0 && p <= 1) {
		panic(fmt.Sprintf("statistics: %s %g outside [0, 1]", name, p))
	}
}

// Tail returns P(X >= k) for X binomial with n trials of probability p, exact
// through the incomplete beta function: I_p(k, n-k+1). It panics unless n >= 0
// and p lies in [0, 1]; any k is legal.
func Tail(n, k int, p float64) float64 {
	checkProbability("probability", p)
	switch {
	case n < 0:
		panic("statistics: negative number of trials")
	case k <= 0:
		return 1
	case k > n:
		return 0
	}
	return mathext.RegIncBeta(float64(k), float64(n-k+1), p)
}

// PValue returns the one-sided exact binomial probability of at least this many
// right answers from a listener who only guesses, each guess right with
// probability guess.
func (c Count) PValue(guess float64) float64 {
	c.check()
	return Tail(c.Trials, c.Right, guess)
}

// Proportion returns Right/Trials, and NaN without trials.
func (c Count) Proportion() float64 {
	c.check()
	return float64(c.Right) / float64(c.Trials)
}

// Interval returns the two-sided interval of Clopper and Pearson (Biometrika
// 26:404, 1934) for the probability of a right answer. It covers with at least
// the given level, 0 < level < 1. Without trials it is [0, 1].
func (c Count) Interval(level float64) Interval {
	c.check()
	if !(level > 0 && level < 1) {
		panic(fmt.Sprintf("statistics: interval level %g outside (0, 1)", level))
	}
	tail := (1 - level) / 2
	k, n := float64(c.Right), float64(c.Trials)
	out := Interval{Lo: 0, Hi: 1, Level: level}
	if c.Right > 0 {
		out.Lo = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(tail)
	}
	if c.Right < c.Trials {
		out.Hi = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(1 - tail)
	}
	return out
}
