package statistics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Shape is the form of a psychometric function between guessing and lapsing.
type Shape uint8

const (
	// Logistic is 1/(1+exp(-z)); the usual choice on a decibel axis.
	Logistic Shape = iota
	// Normal is the cumulative normal Φ(z), which follows from a fixed
	// criterion in Gaussian noise.
	Normal
	// Weibull is 1-exp(-exp(z)): on a logarithmic axis (decibels) this is the
	// Weibull function of the amplitude, with the steepness 20/(Scale ln 10).
	Weibull
)

// String returns the name of the shape.
func (s Shape) String() string {
	switch s {
	case Logistic:
		return "logistic"
	case Normal:
		return "cumulative normal"
	case Weibull:
		return "Weibull"
	}
	return fmt.Sprintf("Shape(%d)", uint8(s))
}

// At returns the shape's value in [0, 1] and its derivative at z.
func (s Shape) At(z float64) (value, slope float64) {
	switch s {
	case Logistic:
		e := math.Exp(-math.Abs(z))
		value = 1 / (1 + e)
		if z < 0 {
			value = e / (1 + e)
		}
		return value, e / ((1 + e) * (1 + e))
	case Normal:
		return distuv.UnitNormal.CDF(z), distuv.UnitNormal.Prob(z)
	case Weibull:
		e := math.Exp(min(z, 700))
		return -math.Expm1(-e), math.Exp(min(z, 700) - e)
	}
	panic("statistics: unknown shape")
}

// Quantile returns the z at which the shape reaches p, 0 < p < 1.
func (s Shape) Quantile(p float64) float64 {
	switch s {
	case Logistic:
		return math.Log(p) - math.Log1p(-p)
	case Normal:
		return distuv.UnitNormal.Quantile(p)
	case Weibull:
		return math.Log(-math.Log1p(-p))
	}
	panic("statistics: unknown shape")
}

// Curve is a psychometric function
//
//	ψ(x) = Guess + (1 - Guess - Lapse) F((x - Location)/Scale)
//
// of the stimulus level x. Scale is positive, in units of x; the two rates are
// non-negative and sum to less than 1.
type Curve struct {
	Shape    Shape
	Location float64 // the threshold, in units of x
	Scale    float64 // the spread, in units of x; small is steep
	Guess    float64 // probability of a right answer without hearing
	Lapse    float64 // probability of a wrong answer in spite of hearing
}

// At returns the probability of a right answer at x.
func (c Curve) At(x float64) float64 {
	f, _ := c.Shape.At((x - c.Location) / c.Scale)
	return c.Guess + (1-c.Guess-c.Lapse)*f
}
