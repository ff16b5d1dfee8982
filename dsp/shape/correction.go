package shape

import (
	"math"

	"quietcross/dsp/resample"
)

// paths returns the response of the paths put through the samples, at w radians per sample:
// that of the whole method on a linear law less that of the average.
func paths(w float64) float64 {
	half := onLine()
	sum := half[0]
	for k, tap := range half[1:] {
		sum += 2 * tap * math.Cos(float64(k+1)*w)
	}
	return sum / spline(boxes)(w)
}

// correction returns one half (centre first) of a symmetric filter at the base
// rate with the reciprocal of the response, which is given over the angle per
// sample at oversample times the base rate, from 0 to
// [resample.PassEdge].
//
// The response of such a filter of n+1 coefficients is a polynomial of degree n
// in the cosine of the base-rate angle. It is made by interpolation in the
// Chebyshev extreme points of the band, which include zero frequency, so that
// the gain there is exact. The degree is the minimum that keeps the error within
// the ripple.
func correction(response func(w float64) float64, oversample int) []float64 {
	inverse := func(cosine float64) float64 {
		return 1 / response(math.Acos(max(-1, min(1, cosine)))/float64(oversample))
	}
	for n := 2; ; n++ {
		p := newInterpolant(inverse, math.Cos(2*math.Pi*resample.PassEdge), 1, n)
		if p.error(inverse) < ripple {
			return p.cosines()
		}
	}
}

// interpolant is a polynomial of degree len(at)-1 through values at the Chebyshev
// extreme points of an interval.
type interpolant struct{ at, value []float64 }

func newInterpolant(f func(float64) float64, lo, hi float64, n int) interpolant {
	p := interpolant{make([]float64, n+1), make([]float64, n+1)}
	for i := range p.at {
		p.at[i] = (hi+lo)/2 + (hi-lo)/2*math.Cos(math.Pi*float64(i)/float64(n))
		p.value[i] = f(p.at[i])
	}
	return p
}

// error returns the maximum distance to f halfway between the points.
func (p interpolant) error(f func(float64) float64) float64 {
	worst := 0.0
	for i := range p.at[1:] {
		x := (p.at[i] + p.at[i+1]) / 2
		worst = max(worst, math.Abs(p.eval(x)-f(x)))
	}
	return worst
}

// eval is the barycentric formula (Berrut and Trefethen, SIAM Review 46, 2004).
func (p interpolant) eval(x float64) float64 {
	var above, below float64
	for i, at := range p.at {
		if x == at {
			return p.value[i]
		}
		w := 1 / (x - at)
		if i%2 == 1 {
			w = -w
		}
		if i == 0 || i == len(p.at)-1 {
			w /= 2
		}
		above += w * p.value[i]
		below += w
	}
	return above / below
}

// cosines returns the symmetric filter whose response is the polynomial in the
// cosine of the angle: the centre, then one side.
func (p interpolant) cosines() []float64 {
	n := len(p.at) - 1
	half := make([]float64, n+1)
	for j := range n + 1 {
		angle := math.Pi * float64(j) / float64(n)
		v := p.eval(math.Cos(angle)) / float64(n)
		if j == 0 || j == n {
			v /= 2
		}
		for k := range half {
			half[k] += v * math.Cos(angle*float64(k))
		}
	}
	half[n] /= 2
	return half
}
