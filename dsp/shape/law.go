package shape

import "math"

// knot is a point of a law with its slope.
type knot struct{ x, y, slope float64 }

// Law is a memoryless law as a piecewise quintic with one continuous derivative,
// and its antiderivatives. Beyond its range it goes on as a straight line with
// the end slope. A Law does not change once made and may be shared by goroutines.
type Law struct {
	lo, hi float64
	rest   float64 // f(0)
	// cells holds f - rest: a straight line, the cells of the range in ascending
	// order, and a straight line.
	cells     []cell
	integrals []integral // of each cell
	index     index
	pieces    []piece
	within    tolerances // that the pieces were joined by
	grain     float64    // rounding error that a segment may have
	worst     float64
	linear    bool
	gain      float64 // of a linear law
}

// Linear returns the law y = gain·x.
func Linear(gain float64) *Law {
	l := newLaw([]piece{chord(knot{-1, -gain, gain}, knot{1, gain, gain})})
	l.linear, l.gain = true, gain
	return l
}

// joined builds a law of adjoining pieces, as [newLaw] does, and marks where paths may
// go smoothly from one to the next.
func joined(pieces []piece, t tolerances) *Law {
	l := newLaw(pieces)
	l.within = t
	join(l.cells, t.tolerance)
	return l
}

// newLaw builds a law of adjoining pieces in ascending order, each an even binary
// fraction of the range.
func newLaw(pieces []piece) *Law {
	first, last := pieces[0].a, pieces[len(pieces)-1].b
	l := &Law{lo: first.x, hi: last.x, pieces: pieces}
	l.cells = append(l.cells, ray(first))
	for _, p := range pieces {
		l.cells = append(l.cells, p.quintic())
	}
	l.cells = append(l.cells, ray(last))
	l.index = newIndex(l.lo, l.hi, l.cells)
	l.rest = l.swing(0)
	for i := range l.cells {
		l.cells[i].c0 -= l.rest
	}
	l.grain = 1e-12 * max(math.Abs(l.swing(l.lo)), math.Abs(l.swing(l.hi)))
	l.integrals = integrate(l.cells, l.index.find(0))
	return l
}

// Range returns the interval on which the law was fitted.
func (l *Law) Range() (lo, hi float64) { return l.lo, l.hi }

// At returns f(x).
func (l *Law) At(x float64) float64 { return l.swing(x) + l.rest }

// swing returns f(x) - f(0).
func (l *Law) swing(x float64) float64 { return l.cells[l.index.find(x)].at(x) }

// Slope returns the derivative of f at x.
func (l *Law) Slope(x float64) float64 { return l.cells[l.index.find(x)].slope(x) }

// Cells returns the number of quintics between the ends of the range.
func (l *Law) Cells() int { return len(l.cells) - 2 }

// Deviation returns the maximum distance between the law and the function it
// was fitted to at the points that [Fit] looked at.
func (l *Law) Deviation() float64 { return l.worst }
