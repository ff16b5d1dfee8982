package resample

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// equiripple designs a half-band low-pass of 4m-1 taps: it returns the m distinct
// outer coefficients, nearest the centre first. Tap k stands at ±(2k+1) samples,
// the centre is 1/2 and the other even offsets are 0. Its error is the minimum
// possible for that length, the same in the pass band from 0 to pass (a fraction
// of the filter's rate, below 1/4) and in the stop band from 1/2-pass on.
//
// By the symmetry of a half-band only the pass band needs to be looked at: there
// the sum of 2·taps[k]·cos((2k+1)w) shall be 1/2. The exchange algorithm of Remez
// finds the sum whose error alternates in m+1 points (Parks and McClellan, IEEE
// Trans. Circuit Theory 19, 1972).
func equiripple(m int, pass float64) ([]float64, error) {
	// The sum is cos w times a polynomial in cos 2w, so that the extreme points of
	// a Chebyshev polynomial there are a close first guess, and crowd as needed.
	grid := make([]float64, 40*m+1)
	edge := math.Cos(4 * math.Pi * pass)
	for i := range grid {
		t := math.Cos(math.Pi * float64(i) / float64(len(grid)-1))
		grid[i] = math.Acos(min(1, (1+edge)/2+(1-edge)/2*t)) / 2
	}
	points := make([]float64, m+1)
	for i := range points {
		points[i] = grid[40*i]
	}
	for range 50 {
		taps, ripple, err := alternating(points)
		if err != nil {
			return nil, err
		}
		var worst float64
		points, worst = extremes(grid, func(w float64) float64 { return passError(taps, w) }, m+1)
		if worst <= ripple*(1+1e-6) {
			return taps, nil
		}
	}
	return nil, fmt.Errorf("no exchange of points settles for %d taps to %g", m, pass)
}

// passError is the response of a half-band less 1 in the pass band.
func passError(taps []float64, w float64) float64 {
	sum := -0.5
	for k, h := range taps {
		sum += 2 * h * math.Cos(float64(2*k+1)*w)
	}
	return sum
}

// alternating returns the taps whose error has the same size and alternating
// signs in the points, and that size.
func alternating(points []float64) (taps []float64, size float64, err error) {
	n := len(points)
	a, b := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	sign := 1.0
	for i, w := range points {
		for k := range n - 1 {
			a.Set(i, k, 2*math.Cos(float64(2*k+1)*w))
		}
		a.Set(i, n-1, sign)
		b.SetVec(i, 0.5)
		sign = -sign
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return nil, 0, err
	}
	return x.RawVector().Data[:n-1], math.Abs(x.AtVec(n - 1)), nil
}

// extremes returns the count maximum alternating extremes of f on the grid, and
// the size of the maximum.
func extremes(grid []float64, f func(float64) float64, count int) (at []float64, worst float64) {
	var size []float64
	for _, w := range grid {
		e := f(w)
		worst = max(worst, math.Abs(e))
		last := len(at) - 1
		switch {
		case last < 0 || (e > 0) != (size[last] > 0):
			at, size = append(at, w), append(size, e)
		case math.Abs(e) > math.Abs(size[last]):
			at[last], size[last] = w, e
		}
	}
	for len(at) > count { // one of the two ends is one too many
		if math.Abs(size[0]) < math.Abs(size[len(at)-1]) {
			at, size = at[1:], size[1:]
		} else {
			at, size = at[:len(at)-1], size[:len(at)-1]
		}
	}
	return at, worst
}
