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
	// origins holds the antiderivatives of f - rest at each cell's origin.
	origins []antiderivatives
	index   index
	grain   float64 // rounding error that a segment may have
	gain    float64 // of a linear law
	linear  bool
	worst   float64
}

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
	l.cells = append(l.cells, ray(first, math.Inf(-1), first.x))
	for i := range knots[1:] {
		l.cells = append(l.cells, hermite(knots[i], knots[i+1]))
	}
	l.cells = append(l.cells, ray(last, last.x, math.Inf(1)))
	l.index = newIndex(l.cells)
	l.rest = l.At(0)
	for i := range l.cells {
		l.cells[i].c0 -= l.rest
	}
	l.grain = 1e-12 * max(math.Abs(l.At(l.lo)-l.rest), math.Abs(l.At(l.hi)-l.rest))
	l.integrate()
	return l
}
