package shape

import "math"

// path is the way of the signal between two samples, a parabola over s from 0 to
// 1:
//
//	x(s) = a + (b-a)·s - curve·s(1-s)/2
//
// curve being the second difference of the signal there.
type path struct{ a, b, curve float64 }

// Gauss's rule of three points takes s = 1/2 and 1/2±outer.
const outer = 0.3872983346207417 // sqrt(15)/10

// segment returns the integrals of f and of (s-1/2)·f over the path, f being the
// law less its value at 0, from cell i to cell j.
func (l *Law) segment(p path, i, j int) (mean, tilt float64) {
	if d := math.Abs(p.b - p.a); !(math.Abs(p.curve) <= 2*d) { // it turns
		if !(d+math.Abs(p.curve) <= math.MaxFloat64) {
			return math.NaN(), math.NaN()
		}
		s := 0.5 - (p.b-p.a)/p.curve
		if first, second := p.split(s); p.curve != 0 {
			at := l.index.find(first.b)
			if i != j || i != at {
				m1, t1 := l.oneWay(first, i, at)
				m2, t2 := l.oneWay(second, at, j)
				return combine(s, m1, t1, m2, t2)
			}
		}
	}
	return l.oneWay(p, i, j)
}

// oneWay is segment for a path that does not turn, or keeps to one cell. It takes
// the first way that is exact enough: three points, the same on both sides of a
// corner, the antiderivatives at the ends, or two halves.
func (l *Law) oneWay(p path, i, j int) (mean, tilt float64) {
	low, high := &l.cells[min(i, j)], &l.cells[max(i, j)]
	d := math.Abs(p.b - p.a)
	switch {
	case i == j:
		return p.sampled(low, low)
	case max(i-j, j-i) == 1 && d <= min(low.width(), high.width()):
		if low.joins {
			return p.sampled(low, high)
		}
		return p.cornered(&l.cells[i], &l.cells[j], high.start())
	case math.Abs(p.curve) <= 0.25*d:
		if mean, tilt, ok := l.leap(p, i, j); ok {
			return mean, tilt
		}
	}
	first, second := p.split(0.5)
	at := l.index.find(first.b)
	m1, t1 := l.oneWay(first, i, at)
	m2, t2 := l.oneWay(second, at, j)
	return combine(0.5, m1, t1, m2, t2)
}

// sampled takes the integrals by Gauss's rule, which is exact up to the fifth
// power, in one cell or two adjoining ones. Over a path as long as a cell it misses
// less than the quintic does, unless the law has a corner between the two.
func (p path) sampled(low, high *cell) (mean, tilt float64) {
	knot := high.start()
	m := 0.5 * (p.a + p.b)
	e := outer * (p.b - p.a)
	side := m - 0.05*p.curve // curve·s(1-s)/2 at s = 1/2±outer
	f0, f1, f2 := across(low, high, knot, side-e), across(low, high, knot, m-0.125*p.curve), across(low, high, knot, side+e)
	return (5./18)*(f0+f2) + (8./18)*f1, (outer * 5 / 18) * (f2 - f0)
}

// across returns the value at x of two cells that adjoin at the knot.
func across(low, high *cell, knot, x float64) float64 {
	c := high
	if x < knot {
		c = low
	}
	return c.at(x)
}

// cornered takes them apart on both sides of the knot between the cells of a and
// b.
func (p path) cornered(ofA, ofB *cell, knot float64) (mean, tilt float64) {
	s := p.crossing(knot)
	first, second := p.split(s)
	m1, t1 := first.sampled(ofA, ofA)
	m2, t2 := second.sampled(ofB, ofB)
	return combine(s, m1, t1, m2, t2)
}

// crossing returns the s at which a path comes to x, which lies between its ends.
func (p path) crossing(x float64) float64 {
	d := p.b - p.a
	if d < 0 {
		return path{-p.a, -p.b, -p.curve}.crossing(-x)
	}
	// curve/2·s² + slope·s = x - a; the path rises there.
	slope, rise := d-0.5*p.curve, x-p.a
	root := math.Sqrt(max(0, slope*slope+2*p.curve*rise))
	s := 2 * rise / (slope + root)
	if slope < 0 {
		s = (root - slope) / p.curve
	}
	if !(s >= 0 && s <= 1) { // an end within rounding of x
		return 0.5
	}
	return s
}

// split cuts a path at s. A part curves by the square of its share.
func (p path) split(s float64) (first, second path) {
	m := p.a + (p.b-p.a)*s - 0.5*p.curve*s*(1-s)
	return path{p.a, m, p.curve * s * s}, path{m, p.b, p.curve * (1 - s) * (1 - s)}
}

// combine makes the integrals of a path of those of its parts before and after s.
func combine(s, m1, t1, m2, t2 float64) (mean, tilt float64) {
	r := 1 - s
	return s*m1 + r*m2, s*(s*t1-0.5*r*m1) + r*(r*t2+0.5*s*m2)
}

// leap takes the integrals from the antiderivatives at the two ends. With those
// along the chord
//
//	A of f, B of (s-1/2)·f, E of (12(s-1/2)²-1)·f
//
// and r = curve/(b-a), integration by parts of the Taylor series in the curve
// gives A - rB + r²E/8 and B - rE/8. What is neglected, r³ of the mean and r² of
// the moment, is at most curve²/(894·|b-a|) for a corner that turns the slope by
// 1. leap declines if the rounding errors of the antiderivatives, divided by the
// length of the chord, could be seen.
func (l *Law) leap(p path, i, j int) (mean, tilt float64, ok bool) {
	f, g := l.antiderivatives(i, p.a), l.antiderivatives(j, p.b)
	per := 1 / (p.b - p.a)
	grain := (l.integrals[i].grain + l.integrals[j].grain) * math.Abs(per*per*per)
	if !(grain < l.grain) {
		return 0, 0, false
	}
	a := (g.first - f.first) * per
	b := (0.5*(f.first+g.first) - (g.second-f.second)*per) * per
	e := 2*a - 12*per*per*(f.second+g.second-2*per*(g.third-f.third))
	r := p.curve * per
	lean := r * e * 0.125
	return a - r*(b-lean), b - lean, true
}

// antiderivatives returns those at x in cell i.
func (l *Law) antiderivatives(i int, x float64) antiderivatives {
	return l.integrals[i].to(x - l.cells[i].middle)
}
