// Package kaiser holds the functions of which windowed-sinc interpolators are
// made: the Kaiser window and the sinc.
package kaiser

import "math"

// Window is the Kaiser window of shape beta at u, its middle at 0 and its ends at
// -1 and 1, beyond which it is 0: I0(beta·√(1-u²))/I0(beta) (Oppenheim and Schafer,
// Discrete-Time Signal Processing, 7.5.3).
func Window(u, beta float64) float64 {
	if u <= -1 || u >= 1 {
		return 0
	}
	return BesselI0(beta*math.Sqrt(1-u*u)) / BesselI0(beta)
}

// Beta returns the shape for a stop band that many decibels down, above 50
// (Kaiser's empirical formula, ibid.).
func Beta(decibels float64) float64 { return 0.1102 * (decibels - 8.7) }

// Span returns how many samples long a window has to be for a stop band that many
// decibels down and a transition of that share of the sampling rate (Kaiser's
// empirical formula, ibid.).
func Span(decibels, transition float64) float64 {
	return (decibels - 7.95) / (14.36 * transition)
}

// Sinc is sin(πt)/(πt), 1 at 0.
func Sinc(t float64) float64 {
	if t == 0 {
		return 1
	}
	return math.Sin(math.Pi*t) / (math.Pi * t)
}

// BesselI0 is the modified Bessel function of the first kind and order zero, by
// its power series (Abramowitz and Stegun 9.6.12).
func BesselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= (x / (2 * k)) * (x / (2 * k))
		sum += term
	}
	return sum
}
