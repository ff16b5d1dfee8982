package distortion

import (
	"fmt"
	"math"
)

// Gm returns the metric of Geddes and Lee (AES 115th Convention, 2003) of a
// smooth law y(x) on -1..1 from its second derivative:
//
//	Gm = √∫ cos²(πx/2) y″(x)² dx.
//
// Scale the law so that full scale is 1 and its linear gain 1. It diverges for a
// law with a corner, such as an ideal dead band, whose second derivative is
// infinite: then the error says so.
func Gm(second func(x float64) float64) (float64, error) {
	f := func(x float64) float64 {
		c, s := math.Cos(math.Pi*x/2), second(x)
		return c * c * s * s
	}
	// Panels meet at 0, where a crossover law bends most.
	const panels, depth = 64, 40
	total := 0.0
	for i := range panels {
		a, b := -1+2*float64(i)/panels, -1+2*float64(i+1)/panels
		fa, fm, fb := f(a), f((a+b)/2), f(b)
		v, ok := simpson(f, a, b, fa, fm, fb, 1e-12, depth)
		if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, fmt.Errorf("distortion: the law's second derivative has no finite integral near %.3g of full scale: the metric is for smooth laws", (a+b)/2)
		}
		total += v
	}
	return math.Sqrt(total), nil
}

// simpson integrates f over a..b by halving until two estimates agree relative
// to the sum so far or absolutely, false when they do not within depth halvings.
func simpson(f func(float64) float64, a, b, fa, fm, fb, tolerance float64, depth int) (float64, bool) {
	m := (a + b) / 2
	fl, fr := f((a+m)/2), f((m+b)/2)
	whole := (b - a) / 6 * (fa + 4*fm + fb)
	halves := (b - a) / 12 * (fa + 4*fl + 2*fm + 4*fr + fb)
	if math.Abs(halves-whole) <= 15*tolerance*max(1, math.Abs(halves)) {
		return halves + (halves-whole)/15, true
	}
	if depth == 0 {
		return 0, false
	}
	left, ok1 := simpson(f, a, m, fa, fl, fm, tolerance/2, depth-1)
	right, ok2 := simpson(f, m, b, fm, fr, fb, tolerance/2, depth-1)
	return left + right, ok1 && ok2
}

// GmSampled is [Gm] of a law given as y at evenly spaced x from -1 to 1, at least
// 65 of them, by second differences. It returns an error when the curve is too
// coarse for its bends: when every other point gives a value that differs by more
// than 2 %, as it does for a law with a corner however many points there are.
func GmSampled(y []float64) (float64, error) {
	const minimum, tolerance = 65, 0.02
	if len(y) < minimum {
		return 0, fmt.Errorf("distortion: a law of %d points, at least %d are needed", len(y), minimum)
	}
	if len(y)%2 == 0 {
		return 0, fmt.Errorf("distortion: a law of %d points, an odd number is needed", len(y))
	}
	half := make([]float64, 0, len(y)/2+1)
	for i := 0; i < len(y); i += 2 {
		half = append(half, y[i])
	}
	fine, rough := gmDifferences(y), gmDifferences(half)
	if !(math.Abs(fine-rough) <= tolerance*fine) && fine > 1e-9 {
		return 0, fmt.Errorf("distortion: the law bends within its points (%.4g with all, %.4g with half of them): the metric is for smooth laws", fine, rough)
	}
	return fine, nil
}

// gmDifferences is the metric by the trapezoid rule; the ends weigh nothing.
func gmDifferences(y []float64) float64 {
	step := 2 / float64(len(y)-1)
	sum := 0.0
	for i := 1; i < len(y)-1; i++ {
		c := math.Cos(math.Pi * (-1 + float64(i)*step) / 2)
		bend := (y[i-1] - 2*y[i] + y[i+1]) / (step * step)
		sum += c * c * bend * bend * step
	}
	return math.Sqrt(sum)
}
