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
// law less its value at 0, from cell i to cell j. It takes the first of three ways
// that is exact enough: three points, the antiderivatives at the ends, or two
// halves.
func (l *Law) segment(p path, i, j int) (mean, tilt float64) {
	low, high := &l.cells[min(i, j)], &l.cells[max(i, j)]
	least := min(low.width(), high.width())
	d, curve := math.Abs(p.b-p.a), math.Abs(p.curve)
	near := i == j || (i-j == 1 || j-i == 1) && d <= least
	if near && 2*curve <= least || !(d+curve <= math.MaxFloat64) {
		return p.sampled(low, high)
	}
	if curve <= 0.5*d {
		if mean, tilt, ok := l.leap(p, i, j); ok {
			return mean, tilt
		}
	}
	return l.halves(p, i, j)
}

// sampled takes the integrals by Gauss's rule, which is exact up to the fifth
// power, in two adjoining cells. Over a path as long as a cell it misses less than
// the quintic does.
func (p path) sampled(low, high *cell) (mean, tilt float64) {
	knot := high.start()
	at := func(x float64) float64 {
		if x < knot {
			return low.at(x)
		}
		return high.at(x)
	}
	m := 0.5 * (p.a + p.b)
	e := outer * (p.b - p.a)
	side := m - 0.05*p.curve // curve·s(1-s)/2 at s = 1/2±outer
	f0, f1, f2 := at(side-e), at(m-0.125*p.curve), at(side+e)
	return (5./18)*(f0+f2) + (8./18)*f1, (outer * 5 / 18) * (f2 - f0)
}

// halves splits a path in the middle. Each half curves a quarter as much.
func (l *Law) halves(p path, i, j int) (mean, tilt float64) {
	m := 0.5*(p.a+p.b) - 0.125*p.curve
	at := l.index.find(m)
	m1, t1 := l.segment(path{p.a, m, 0.25 * p.curve}, i, at)
	m2, t2 := l.segment(path{m, p.b, 0.25 * p.curve}, at, j)
	return 0.5 * (m1 + m2), 0.125*(m2-m1) + 0.25*(t1+t2)
}

// leap takes the integrals from the antiderivatives at the two ends. With those
// along the chord
//
//	A of f, B of (s-1/2)·f, E of (12(s-1/2)²-1)·f
//
// and r = curve/(b-a), integration by parts of the Taylor series in the curve
// gives A - rB + r²E/8 and B - rE/8 up to the order of curve³. leap declines if
// the rounding errors of the antiderivatives, divided by the length of the chord,
// could be seen.
func (l *Law) leap(p path, i, j int) (mean, tilt float64, ok bool) {
	f, g := l.antiderivatives(i, p.a), l.antiderivatives(j, p.b)
	per := 1 / (p.b - p.a)
	grain := 0x1p-52 * (math.Abs(f.third) + math.Abs(g.third)) * math.Abs(per*per*per)
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
