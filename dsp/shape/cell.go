package shape

// cell is one cubic of a law: c0 + c1·u + c2·u² + c3·u³ with u = x - origin, for
// start <= x < end.
type cell struct {
	start, end     float64
	origin         float64
	c0, c1, c2, c3 float64
	_              float64 // to one cache line
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

// moments returns, with x running evenly from a to b as s runs from 0 to 1, the
// integrals of f and of (s-1/2)·f over s. It expands the cubic about the middle,
// where only even powers reach the first and only odd ones the second, so that
// nothing cancels and nothing is divided however close a and b are.
func (c *cell) moments(a, b float64) (mean, tilt float64) {
	m := 0.5*(a+b) - c.origin
	e := b - a
	q := e * e
	bend := c.c2 + 3*c.c3*m
	mean = c.c0 + m*(c.c1+m*(c.c2+m*c.c3)) + bend*q*(1./12)
	tilt = e * ((c.c1+m*(c.c2+bend))*(1./12) + c.c3*q*(1./80))
	return mean, tilt
}

// hermite is the cubic through two points with given slopes.
func hermite(a, b knot) cell {
	h := b.x - a.x
	rise := (b.y - a.y) / h
	return cell{
		start: a.x, end: b.x, origin: a.x,
		c0: a.y, c1: a.slope,
		c2: (3*rise - 2*a.slope - b.slope) / h,
		c3: (a.slope + b.slope - 2*rise) / (h * h),
	}
}
