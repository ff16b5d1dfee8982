package fit

import (
	"math"

	"quietcross/dsp/shape"
)

// gridCosines are the cosines at the middles of the intervals of half a cycle, for
// each of two tones.
var gridCosines = func() (c [128]float64) {
	for i := range c {
		c[i] = math.Cos(math.Pi * (float64(i) + 0.5) / float64(len(c)))
	}
	return c
}()

// pairSeries is a law's output under a·cos θ1 + b·cos θ2 as a double cosine
// series.
type pairSeries struct {
	law   *shape.Law
	reach float64
}

// tones returns the two fundamentals and their derivatives by a and b.
func (s *pairSeries) tones(a, b float64) (first, second, firstA, cross, secondB float64) {
	for _, u := range gridCosines {
		for _, v := range gridCosines {
			x := a*u + b*v
			y, slope := s.law.At(x), s.law.Slope(x)
			first += y * u
			second += y * v
			firstA += slope * u * u
			cross += slope * u * v
			secondB += slope * v * v
		}
	}
	k := 2 / float64(len(gridCosines)*len(gridCosines))
	return first * k, second * k, firstA * k, cross * k, secondB * k
}

// coefficients returns c[m][n] of cos(mθ1)·cos(nθ2) to the highest order.
func (s *pairSeries) coefficients(a, b float64) (c [highestProduct + 1][highestProduct + 1]float64) {
	for _, u := range gridCosines {
		var row [highestProduct + 1]float64
		for _, v := range gridCosines {
			addChebyshev(row[:], s.law.At(a*u+b*v), v)
		}
		var across [highestProduct + 1]float64
		addChebyshev(across[:], 1, u)
		for m, t := range across {
			for n, y := range row {
				c[m][n] += t * y
			}
		}
	}
	for m := range c {
		for n := range c[m] {
			c[m][n] *= twice(m) * twice(n) / float64(len(gridCosines)*len(gridCosines))
		}
	}
	return c
}

// addChebyshev adds y·cos(nθ) to sums[n], given cos θ.
func addChebyshev(sums []float64, y, cosine float64) {
	before, now := cosine, 1.0 // cos(-θ), cos 0
	for n := range sums {
		sums[n] += y * now
		before, now = now, 2*cosine*now-before
	}
}

func twice(n int) float64 {
	if n == 0 {
		return 1
	}
	return 2
}

// reaching finds the two inputs whose output has the recorded tones, by Newton's
// method, and returns the recorded lines as the law makes them.
func (s *pairSeries) reaching(o Observation) ([]float64, error) {
	want1, want2 := o.Amplitudes[0], o.Amplitudes[1]
	chord := (s.law.At(s.reach/2) - s.law.At(-s.reach/2)) / s.reach
	sign := math.Copysign(1, chord)
	a, b := want1/math.Abs(chord), want2/math.Abs(chord)
	for range 40 {
		if a+b > s.reach {
			return nil, errBeyond
		}
		f1, f2, d11, d12, d22 := s.tones(a, b)
		e1, e2 := want1-sign*f1, want2-sign*f2
		if math.Hypot(e1, e2) < 1e-9*math.Hypot(want1, want2) {
			return s.lines(a, b, o, sign < 0), nil
		}
		det := (d11*d22 - d12*d12) * sign
		stepA, stepB := (e1*d22-e2*d12)/det, (e2*d11-e1*d12)/det
		a, b = damped(a, stepA), damped(b, stepB)
	}
	return nil, errUnreached
}

// damped adds a step, by no more than halving or doubling the value.
func damped(x, step float64) float64 {
	if math.IsNaN(step) {
		return 2 * x
	}
	return min(max(x+step, x/2), 2*x)
}

func (s *pairSeries) lines(a, b float64, o Observation, inverted bool) []float64 {
	c := s.coefficients(a, b)
	out := make([]float64, len(o.Lines))
	for i, l := range o.Lines {
		v := c[max(l.N1, -l.N1)][max(l.N2, -l.N2)]
		if l.N1 != 0 && l.N2 != 0 {
			v /= 2 // shared with the product on the other side
		}
		out[i] = turned(v, l, inverted)
	}
	return out
}
