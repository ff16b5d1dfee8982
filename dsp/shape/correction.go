package shape

import "math"

// correction returns one half (centre first) of a symmetric filter at the base
// rate whose response is ((2+cos w)/3)^(-1/2), w being the angle per sample at
// oversample times the base rate, from 0 to band (a fraction of the base rate).
//
// The response of such a filter of n+1 coefficients is a polynomial of degree n
// in the cosine of the base-rate angle. It is made by interpolation in the
// Chebyshev extreme points of the band, which include zero frequency, so that
// the gain there is 1.
func correction(oversample, n int, band float64) []float64 {
	edge := math.Cos(2 * math.Pi * band)
	at, value := make([]float64, n+1), make([]float64, n+1)
	for i := range at {
		t := math.Cos(math.Pi * float64(i) / float64(n))
		at[i] = (1+edge)/2 + (1-edge)/2*t
		w := math.Acos(min(1, at[i])) / float64(oversample)
		value[i] = 1 / math.Sqrt((2+math.Cos(w))/3)
	}
	half := make([]float64, n+1)
	for j := range n + 1 { // cosine transform over the whole circle
		angle := math.Pi * float64(j) / float64(n)
		v := interpolate(at, value, math.Cos(angle))
		if j == 0 || j == n {
			v /= 2
		}
		for k := range half {
			half[k] += v * math.Cos(angle*float64(k)) / float64(n)
		}
	}
	half[n] /= 2
	return half
}

// interpolate evaluates the polynomial through the points at Chebyshev extremes
// by the barycentric formula (Berrut and Trefethen, SIAM Review 46, 2004).
func interpolate(at, value []float64, x float64) float64 {
	var above, below float64
	for i := range at {
		if x == at[i] {
			return value[i]
		}
		w := 1 / (x - at[i])
		if i%2 == 1 {
			w = -w
		}
		if i == 0 || i == len(at)-1 {
			w /= 2
		}
		above += w * value[i]
		below += w
	}
	return above / below
}
