package statistics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// gauss integrates f against the density of the standard normal. The integrands
// here are products of normal distribution functions, smooth on the scale of
// one; 160 Gauss-Legendre points on ±10 leave errors under 1e-12.
func gauss(f func(z float64) float64) float64 {
	return quad.Fixed(func(z float64) float64 {
		return distuv.UnitNormal.Prob(z) * f(z)
	}, -10, 10, 160, quad.Legendre{}, 0)
}

// AlternativesCorrect returns the proportion right of an unbiased listener with
// sensitivity d (d′ >= 0) among m alternatives, one of which carries the signal:
// ∫ φ(z) Φ(z + d)^(m-1) dz over all z (Green and Swets, Signal
// Detection Theory and Psychophysics, 1966). It panics unless m >= 2.
func AlternativesCorrect(m int, d float64) float64 {
	if m < 2 {
		panic(fmt.Sprintf("statistics: %d alternatives", m))
	}
	return gauss(func(z float64) float64 {
		return math.Pow(distuv.UnitNormal.CDF(z+d), float64(m-1))
	})
}

// AlternativesSensitivity is the inverse of [AlternativesCorrect]: d′ from the
// proportion right. At or under 1/m it is 0, at 1 it is +Inf.
func AlternativesSensitivity(m int, right float64) float64 {
	return sensitivity(1/float64(m), right, func(d float64) float64 { return AlternativesCorrect(m, d) })
}

// TriangleCorrect returns the proportion right in the triangle test, where two
// of three stimuli are equal and the listener names the odd one by the maximum
// distance between the percepts:
//
//	2 ∫_0^∞ φ(z) [Φ(-z√3 + d√(2/3)) + Φ(-z√3 - d√(2/3))] dz
//
// (Frijters, British Journal of Mathematical and Statistical Psychology 32:229,
// 1979). d is d′ >= 0. The triangle needs a larger d′ for the same proportion
// than three alternatives with a known signal, for the listener is not told
// what to listen for.
func TriangleCorrect(d float64) float64 {
	shift := d * math.Sqrt(2.0/3)
	return 2 * quad.Fixed(func(z float64) float64 {
		n := distuv.UnitNormal
		return n.Prob(z) * (n.CDF(-z*math.Sqrt(3)+shift) + n.CDF(-z*math.Sqrt(3)-shift))
	}, 0, 10, 160, quad.Legendre{}, 0)
}

// TriangleSensitivity is the inverse of [TriangleCorrect]: d′ from the
// proportion right. At or under 1/3 it is 0, at 1 it is +Inf.
func TriangleSensitivity(right float64) float64 {
	return sensitivity(GuessThree, right, TriangleCorrect)
}

func sensitivity(guess, right float64, correct func(d float64) float64) float64 {
	checkProbability("proportion right", right)
	if right <= guess {
		return 0
	}
	const most = 20
	if right >= correct(most) {
		return math.Inf(1)
	}
	return bisect(func(d float64) float64 { return correct(d) - right }, 0, most)
}

// bisect returns the root of f, which is negative at lo and not at hi.
func bisect(f func(x float64) float64, lo, hi float64) float64 {
	for range 200 {
		mid := (lo + hi) / 2
		if mid == lo || mid == hi {
			break
		}
		if f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
