package statistics

import (
	"math"

	"quietcross/dsp/hearing"
)

// TriangleCorrect is [hearing.TriangleCorrect]. The triangle needs a larger d′ for the
// same proportion than three alternatives with a known signal, for the listener is not
// told what to listen for.
func TriangleCorrect(d float64) float64 { return hearing.TriangleCorrect(d) }

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
