// Package parts goes from a quiescent current to parts that a person can buy: the value
// of the part that sets the current, as a fixed resistor of a preferred series and a
// trimmer behind it, how far the trimmer must reach over the tolerances of the parts and
// the temperatures of the bench, how closely the bias part must follow the sink, and for
// a stage whose parts do not reach the current what other parts would. Every figure comes
// of solving the stage again with the parts in question.
package parts

import "math"

// Series is a series of preferred values (IEC 60063).
type Series int

// The series.
const (
	E24 Series = 24
	E96 Series = 96
)

// e24 are the values of E24, which are no rounded powers throughout.
var e24 = []float64{1, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2, 2.2, 2.4, 2.7, 3, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1}

// values returns one decade of the series, from 1.
func (s Series) values() []float64 {
	if s == E24 {
		return e24
	}
	list := make([]float64, int(s))
	for i := range list {
		list[i] = math.Round(100*math.Pow(10, float64(i)/float64(s))) / 100
	}
	return list
}

// decade splits a value above 0 into 1 to 10 and a power of ten.
func decade(value float64) (mantissa, scale float64) {
	scale = math.Pow(10, math.Floor(math.Log10(value)))
	return value / scale, scale
}

// Nearest returns the preferred value nearest to a value above 0 in ratio.
func (s Series) Nearest(value float64) float64 {
	mantissa, scale := decade(value)
	best := 10.0
	for _, v := range s.values() {
		if math.Abs(math.Log(v/mantissa)) < math.Abs(math.Log(best/mantissa)) {
			best = v
		}
	}
	return tidy(best * scale)
}

// Below returns the highest preferred value that is not above a value above 0.
func (s Series) Below(value float64) float64 {
	mantissa, scale := decade(value * (1 + 1e-12))
	best := 1.0
	for _, v := range s.values() {
		if v <= mantissa {
			best = v
		}
	}
	return tidy(best * scale)
}

// trimmers are one decade of the usual trimming potentiometers (common practice).
var trimmers = []float64{1, 2, 5}

// trimmerFrom returns the least usual trimming potentiometer that is no less than a value
// above 0.
func trimmerFrom(value float64) float64 {
	mantissa, scale := decade(value * (1 - 1e-12))
	for _, v := range trimmers {
		if v >= mantissa {
			return tidy(v * scale)
		}
	}
	return tidy(10 * scale)
}

// tidy takes what multiplying by powers of ten left in the last digits away.
func tidy(v float64) float64 { return rounded(v, 6) }

// rounded rounds a value to significant digits.
func rounded(v float64, digits int) float64 {
	if v == 0 {
		return 0
	}
	scale := math.Pow(10, float64(digits-1)-math.Floor(math.Log10(math.Abs(v))))
	if math.IsInf(scale, 0) || scale == 0 {
		return v
	}
	return math.Round(v*scale) / scale
}
