package shape

// cell is one cubic of a law: c0 + c1·u + c2·u² + c3·u³ with u = x - origin, for
// start <= x < end. It fills one cache line.
type cell struct {
	start, end     float64
	origin         float64
	c0, c1, c2, c3 float64
	bend           float64 // greatest curve of a path that this cubic may serve alone
}

func newCell(start, end, origin float64) cell {
	return cell{start: start, end: end, origin: origin, bend: 2 * (end - start)}
}

// hermite is the cubic through two points with given slopes.
func hermite(a, b knot) cell {
	h := b.x - a.x
	rise := (b.y - a.y) / h
	c := newCell(a.x, b.x, a.x)
	c.c0, c.c1 = a.y, a.slope
	c.c2 = (3*rise - 2*a.slope - b.slope) / h
	c.c3 = (a.slope + b.slope - 2*rise) / (h * h)
	return c
}

// ray is the straight line from k on, for start <= x < end.
func ray(k knot, start, end float64) cell {
	c := newCell(start, end, k.x)
	c.c0, c.c1 = k.y, k.slope
	return c
}

func (c *cell) holds(x float64) bool { return x >= c.start && x < c.end }

func (c *cell) at(x float64) float64 {
	u := x - c.origin
	return c.c0 + u*(c.c1+u*(c.c2+u*c.c3))
}

func (c *cell) slope(x float64) float64 {
	u := x - c.origin
	return c.c1 + u*(2*c.c2+u*3*c.c3)
}

// moments returns the integrals of f and of (s-1/2)·f over s from 0 to 1 along
// the path from a to b with the given curve (see path), all of it by this cubic.
// The cubic is expanded about the middle of the chord, so that nothing cancels
// and nothing is divided however close a and b are; for a cubic and a parabola
// the result is exact.
func (c *cell) moments(a, b, curve float64) (mean, tilt float64) {
	m := 0.5*(a+b) - c.origin
	e := b - a
	ee, kk := e*e, curve*curve
	p2 := c.c2 + 3*c.c3*m
	p1 := c.c1 + m*(c.c2+p2)
	p0 := c.c0 + m*(c.c1+m*(c.c2+m*c.c3))
	t := p1*(1./12) + c.c3*(ee*(1./80)+kk*(1./1120))
	mean = p0 + p2*(ee*(1./12)+kk*(1./120)) - curve*t
	tilt = e * (t - curve*p2*(1./120))
	return mean, tilt
}

// rises returns the first three repeated integrals of the cubic from its origin
// to x.
func (c *cell) rises(x float64) antiderivatives {
	u := x - c.origin
	return antiderivatives{
		first:  u * (c.c0 + u*(c.c1/2+u*(c.c2/3+u*c.c3/4))),
		second: u * u * (c.c0/2 + u*(c.c1/6+u*(c.c2/12+u*c.c3/20))),
		third:  u * u * u * (c.c0/6 + u*(c.c1/24+u*(c.c2/60+u*c.c3/120))),
	}
}
