package shape

import "math"

// knot is a point of a law with its slope.
type knot struct{ x, y, slope float64 }

// Law is a memoryless law as a piecewise cubic with one continuous derivative,
// and its first and second antiderivatives. Beyond its range it goes on as a
// straight line with the end slope. A Law does not change once made and may be
// shared by goroutines.
type Law struct {
	lo, hi float64
	rest   float64 // f(0), kept out of the cells
	cells  []cell  // f - rest
	sums   []sums
	index  index
	gain   float64 // of a linear law
	linear bool
	worst  float64
}

// sums holds the antiderivatives of f - rest at a cell's origin, both being 0
// at x = 0.
type sums struct{ first, second float64 }

// Linear returns the law y = gain·x.
func Linear(gain float64) *Law {
	l := newLaw([]knot{{-1, -gain, gain}, {1, gain, gain}})
	l.linear, l.gain = true, gain
	return l
}

// Range returns the interval on which the law was fitted.
func (l *Law) Range() (lo, hi float64) { return l.lo, l.hi }

// At returns f(x).
func (l *Law) At(x float64) float64 { return l.cells[l.find(x)].at(x) + l.rest }

// Slope returns the derivative of f at x.
func (l *Law) Slope(x float64) float64 { return l.cells[l.find(x)].slope(x) }

// Cells returns the number of cubics between the ends of the range.
func (l *Law) Cells() int { return len(l.cells) - 2 }

// Deviation returns the greatest distance between the law and the function it
// was fitted to at the points that [Fit] looked at between the knots.
func (l *Law) Deviation() float64 { return l.worst }

// newLaw builds a law through at least two knots, in ascending order.
func newLaw(knots []knot) *Law {
	first, last := knots[0], knots[len(knots)-1]
	l := &Law{lo: first.x, hi: last.x}
	l.cells = append(l.cells, cell{
		start: math.Inf(-1), end: first.x, origin: first.x, c0: first.y, c1: first.slope,
	})
	for i := range knots[1:] {
		l.cells = append(l.cells, hermite(knots[i], knots[i+1]))
	}
	l.cells = append(l.cells, cell{
		start: last.x, end: math.Inf(1), origin: last.x, c0: last.y, c1: last.slope,
	})
	l.index = newIndex(l.cells)
	l.rest = l.At(0)
	for i := range l.cells {
		l.cells[i].c0 -= l.rest
	}
	l.integrate()
	return l
}

// integrate fills the antiderivatives outward from x = 0, so that their
// rounding error is relative to their size there.
func (l *Law) integrate() {
	l.sums = make([]sums, len(l.cells))
	zero := l.find(0)
	c := &l.cells[zero]
	f, s := c.rise(-c.origin)
	// Both vanish at 0: F1(0) = F1(origin) + f, F2(0) = F2(origin) + u·F1(origin) + s.
	l.sums[zero] = sums{first: -f, second: -(s - c.origin*-f)}
	for i := zero + 1; i < len(l.cells); i++ {
		l.sums[i] = l.stepTo(i-1, l.cells[i].origin)
	}
	for i := zero - 1; i >= 0; i-- {
		c := &l.cells[i]
		w := l.cells[i+1].origin - c.origin
		f, s := c.rise(w)
		to := l.sums[i+1]
		first := to.first - f
		l.sums[i] = sums{first: first, second: to.second - w*first - s}
	}
}

// stepTo returns the antiderivatives at x, x being in or at the end of cell i.
func (l *Law) stepTo(i int, x float64) sums {
	c := &l.cells[i]
	u := x - c.origin
	f, s := c.rise(u)
	from := l.sums[i]
	return sums{first: from.first + f, second: from.second + u*from.first + s}
}

// rise returns the single and the double integral of the cubic from its origin
// to u beyond it.
func (c *cell) rise(u float64) (first, second float64) {
	first = u * (c.c0 + u*(c.c1/2+u*(c.c2/3+u*c.c3/4)))
	second = u * u * (c.c0/2 + u*(c.c1/6+u*(c.c2/12+u*c.c3/20)))
	return first, second
}
