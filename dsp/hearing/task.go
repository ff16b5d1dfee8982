package hearing

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// From d' to the probability of a right answer in the tasks of a listening test. The
// integrands are products of normal distribution functions, smooth on the scale of
// one; 160 Gauss-Legendre points leave errors under 1e-12.

// Task is a way to ask a listener.
type Task uint8

// The tasks.
const (
	// Triangle: three stimuli, of which two are equal; name the odd one.
	Triangle Task = iota
	// TwoIntervals and ThreeIntervals: name the interval that has the change, which
	// the listener knows, as a rule because the reference was played first.
	TwoIntervals
	ThreeIntervals
	taskCount
)

// Tasks lists all tasks.
var Tasks = [taskCount]Task{Triangle, TwoIntervals, ThreeIntervals}

var taskWords = [taskCount]string{"triangle", "two-intervals", "three-intervals"}

// String returns the word for t.
func (t Task) String() string { return taskWords[t] }

// Guess returns the probability of a right answer by guessing.
func (t Task) Guess() float64 {
	if t == TwoIntervals {
		return 0.5
	}
	return 1. / 3
}

// Correct returns the probability of a right answer of an unbiased listener with
// sensitivity d (d' >= 0) in the task.
func (t Task) Correct(d float64) float64 {
	switch t {
	case TwoIntervals:
		return AlternativesCorrect(2, d)
	case ThreeIntervals:
		return AlternativesCorrect(3, d)
	}
	return TriangleCorrect(d)
}

// Detection returns the probability that a listener with sensitivity d (d' >= 0) notices
// a change, in the sense in which every limit of this program is meant: of two intervals
// the listener names the right one because it was noticed, or else guesses. An unbiased
// listener is right with probability Φ(d'/√2) (Green and Swets 1966), and with chance
// taken out of that,
//
//	2 Φ(d'/√2) - 1 = erf(d'/2)
//
// is left. It is 0 for equal signals, whatever false alarms a listener gives. One half is
// 75 % right in two intervals, the usual threshold of a laboratory; there d' is 0.954,
// 0.2 dB under the d' of 1 at which the model is set, where it is 0.52.
func Detection(d float64) float64 { return math.Erf(d / 2) }

// Sensitivity returns the d' at which [Detection] is a probability from 0 to below 1.
func Sensitivity(detection float64) float64 { return 2 * math.Erfinv(detection) }

// AlternativesCorrect returns the proportion right of an unbiased listener with
// sensitivity d (d' >= 0) among m alternatives, one of which carries the signal:
// ∫ φ(z) Φ(z + d)^(m-1) dz over all z (Green and Swets, Signal Detection Theory and
// Psychophysics, 1966). m is at least 2.
func AlternativesCorrect(m int, d float64) float64 {
	n := distuv.UnitNormal
	return quad.Fixed(func(z float64) float64 {
		return n.Prob(z) * math.Pow(n.CDF(z+d), float64(m-1))
	}, -10, 10, 160, quad.Legendre{}, 0)
}

// TriangleCorrect returns the proportion right in the triangle test, where the
// listener names the odd one by the maximum distance between the percepts:
//
//	2 ∫_0^∞ φ(z) [Φ(-z√3 + d√(2/3)) + Φ(-z√3 - d√(2/3))] dz
//
// (Frijters, British Journal of Mathematical and Statistical Psychology 32:229,
// 1979). d is d' >= 0.
func TriangleCorrect(d float64) float64 {
	n, shift := distuv.UnitNormal, d*math.Sqrt(2.0/3)
	return 2 * quad.Fixed(func(z float64) float64 {
		return n.Prob(z) * (n.CDF(-z*math.Sqrt(3)+shift) + n.CDF(-z*math.Sqrt(3)-shift))
	}, 0, 10, 160, quad.Legendre{}, 0)
}
