package resample

import "math"

// kaiserHalfband returns the m distinct outer coefficients of a half-band
// low-pass of 4m-1 taps, nearest the centre first: tap k stands at ±(2k+1)
// samples, the centre is 1/2 and all other even offsets are 0. The window is
// Kaiser's with shape beta; the gain at zero frequency is exactly 1.
func kaiserHalfband(m int, beta float64) []float64 {
	taps := make([]float64, m)
	sum := 0.0
	for k := range taps {
		t := float64(2*k + 1)
		r := t / float64(2*m)
		sinc := math.Sin(math.Pi*t/2) / (math.Pi * t)
		taps[k] = sinc * besselI0(beta*math.Sqrt(1-r*r)) / besselI0(beta)
		sum += taps[k]
	}
	for k := range taps {
		taps[k] *= 0.25 / sum
	}
	return taps
}

// besselI0 is the modified Bessel function of the first kind and order zero,
// by its power series (Abramowitz and Stegun 9.6.12).
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= (x / 2 / k) * (x / 2 / k)
		sum += term
	}
	return sum
}
