package shape

import "math"

// path is the way of the signal between two samples, a parabola over s from 0 to
// 1:
//
//	x(s) = a + (b-a)·s - curve·s(1-s)/2
//
// curve being the second difference of the signal there. i and j are the cells
// of a and b.
type path struct {
	a, b, curve float64
	i, j        int
}

// segment returns the integrals of f and of (s-1/2)·f over the path, f being the
// law less its value at 0.
func (l *Law) segment(p path) (mean, tilt float64) {
	d := math.Abs(p.b - p.a)
	if c := l.alone(p, d); c != nil {
		return c.moments(p.a, p.b, p.curve)
	}
	if math.Abs(p.curve) <= 0.5*d || d == 0 && p.curve == 0 {
		return l.across(p)
	}
	return l.halves(p)
}

// alone returns the cell whose cubic serves the whole path: the path keeps to it
// or strays a fraction of its width at most, which costs as much accuracy as the
// fit has between two knots. It returns nil if there is none.
func (l *Law) alone(p path, d float64) *cell {
	c := &l.cells[p.i]
	if p.i != p.j {
		if p.i+1 != p.j && p.j+1 != p.i {
			return nil
		}
		other := &l.cells[p.j]
		if 8*d > min(c.bend, other.bend) {
			return nil
		}
		if !c.holds(0.5 * (p.a + p.b)) {
			c = other
		}
	}
	if math.Abs(p.curve) > c.bend {
		return nil
	}
	return c
}

// halves splits a path in the middle. Each half curves a quarter as much.
func (l *Law) halves(p path) (mean, tilt float64) {
	m := 0.5*(p.a+p.b) - 0.125*p.curve
	at := l.find(m)
	m1, t1 := l.segment(path{p.a, m, 0.25 * p.curve, p.i, at})
	m2, t2 := l.segment(path{m, p.b, 0.25 * p.curve, at, p.j})
	return 0.5 * (m1 + m2), 0.125*(m2-m1) + 0.25*(t1+t2)
}

// across is segment for a path through several cells that curves little. With the
// integrals along the chord
//
//	A of f, B of (s-1/2)·f, E of (12(s-1/2)²-1)·f
//
// and r = curve/(b-a), integration by parts of the Taylor series in the curve
// gives A - rB + r²E/8 and B - rE/8 up to the order of curve³.
func (l *Law) across(p path) (mean, tilt float64) {
	c := l.chord(p.a, p.b, p.i, p.j)
	r := p.curve / (p.b - p.a)
	lean := r * c.e * 0.125
	return c.a - r*(c.b-lean), c.b - lean
}

// chord holds the integrals A, B and E of across.
type chord struct{ a, b, e float64 }

func (l *Law) chord(a, b float64, i, j int) chord {
	if i > j {
		c := l.chord(b, a, j, i)
		c.b = -c.b
		return c
	}
	if j-i > 2 {
		if c, ok := l.leap(a, b, i, j); ok {
			return c
		}
	}
	return l.walk(a, b, i, j)
}

// leap takes the integrals from the antiderivatives at the two ends. It declines
// if their rounding errors, divided by the length of the chord, could be seen.
func (l *Law) leap(a, b float64, i, j int) (chord, bool) {
	f, g := l.integrals(i, a), l.integrals(j, b)
	per := 1 / (b - a)
	grain := 0x1p-52 * (math.Abs(f.third) + math.Abs(g.third)) * per * per * per
	if !(grain < l.grain) {
		return chord{}, false
	}
	mean := (g.first - f.first) * per
	return chord{
		a: mean,
		b: (0.5*(f.first+g.first) - (g.second-f.second)*per) * per,
		e: 2*mean - 12*per*per*(f.second+g.second-2*per*(g.third-f.third)),
	}, true
}

// walk adds up the pieces of a chord cell by cell.
func (l *Law) walk(a, b float64, i, j int) chord {
	per := 1 / (b - a)
	var sum chord
	from := a
	for ; i <= j; i++ {
		c := &l.cells[i]
		to := min(b, c.end)
		mean, tilt := c.moments(from, to, 0)
		w := to - from
		u := 0.5*(from+to) - c.origin
		bow := (c.c2 + 3*c.c3*u) * w * w * (1. / 15)
		h := w * per
		at := (0.5*(from+to)-a)*per - 0.5
		sum.a += h * mean
		sum.b += h * (at*mean + h*tilt)
		sum.e += h * ((12*at*at-1)*mean + h*(24*at*tilt+h*(bow+mean)))
		from = to
	}
	return sum
}
