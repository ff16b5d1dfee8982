package distortion

import (
	"fmt"
	"math"
)

// GmSampled returns the metric of Geddes and Lee (AES 115th Convention, 2003) of a
// smooth law y(x) on -1..1,
//
//	Gm = √∫ cos²(πx/2) y″(x)² dx,
//
// given as y at evenly spaced x from -1 to 1, at least 65 of them and an odd number, by
// second differences. Scale the law so that full scale is 1 and its linear gain 1. The
// metric diverges for a law with a corner, such as an ideal dead band. The error says
// so, or that the curve is too coarse for its bends: when every other point gives a
// value that differs by more than 2 %.
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
