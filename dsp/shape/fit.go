package shape

import (
	"errors"
	"fmt"
	"math"
)

const (
	gridCells = 2048 // the coarsest look at the function
	maxKnots  = 1 << 16
	maxDepth  = 24 // halvings of a grid cell
)

// Fit makes a law of the function f on [lo, hi]. f returns the value and the
// slope at x; an error of f ends the fit and is returned.
//
// The knots are placed by halving until the cubic between two of them is within
// the tolerance of f at the points in between. The tolerance is tol, in units of
// f, at the end of the range that lies farther from 0, and shrinks in proportion
// to |x| down to tol/1000, so that a weak signal about 0 is served as well in
// proportion as a strong one. f is looked at in 2049 even points at least.
//
// If f is monotone in these points, so is the law. A corner of f is met by ever
// shorter cells down to 2^-24 of a grid step; see [Law.Deviation] for what is left.
//
// lo < hi and tol > 0 must hold, all finite, and f must be finite on [lo, hi], or
// Fit returns an error; so it does when more than 65536 knots would be needed,
// as with a tolerance below the noise of f.
func Fit(f func(x float64) (y, slope float64, err error), lo, hi, tol float64) (*Law, error) {
	if !(lo < hi) || math.IsInf(hi-lo, 0) {
		return nil, fmt.Errorf("shape: range from %g to %g: the low end must be finite and below the high end", lo, hi)
	}
	if !(tol > 0) {
		return nil, fmt.Errorf("shape: tolerance %g: must be above 0", tol)
	}
	t := &fitter{f: f, tol: tol, reach: max(math.Abs(lo), math.Abs(hi))}
	grid, err := t.grid(lo, hi)
	if err != nil {
		return nil, err
	}
	t.knots = append(t.knots, grid[0])
	if err := t.cover(grid); err != nil {
		return nil, err
	}
	limitSlopes(t.knots)
	l := newLaw(t.knots)
	l.worst = t.worst
	return l, nil
}

type fitter struct {
	f     func(x float64) (y, slope float64, err error)
	tol   float64
	reach float64
	knots []knot
	worst float64
}

func (t *fitter) knot(x float64) (knot, error) {
	y, slope, err := t.f(x)
	if err != nil {
		return knot{}, fmt.Errorf("shape: law at %g: %w", x, err)
	}
	if math.IsNaN(y+slope) || math.IsInf(y+slope, 0) {
		return knot{}, fmt.Errorf("shape: law at %g: value %g, slope %g: must be finite", x, y, slope)
	}
	return knot{x, y, slope}, nil
}

func (t *fitter) grid(lo, hi float64) ([]knot, error) {
	grid := make([]knot, gridCells+1)
	for i := range grid {
		s := float64(i) / gridCells
		k, err := t.knot(lo*(1-s) + hi*s)
		if err != nil {
			return nil, err
		}
		grid[i] = k
	}
	return grid, nil
}

// cover emits the knots after the first of grid, whose length is 2^n+1.
func (t *fitter) cover(grid []knot) error {
	last := len(grid) - 1
	if last == 1 {
		middle, err := t.knot((grid[0].x + grid[1].x) / 2)
		if err != nil {
			return err
		}
		return t.refine(grid[0], middle, grid[1], 0)
	}
	if t.fits(grid) {
		return t.emit(grid[last])
	}
	if err := t.cover(grid[:last/2+1]); err != nil {
		return err
	}
	return t.cover(grid[last/2:])
}

// refine emits the knots of (a, b] below the grid, m being its middle.
func (t *fitter) refine(a, m, b knot, depth int) error {
	p, err := t.knot((a.x + m.x) / 2)
	if err != nil {
		return err
	}
	q, err := t.knot((m.x + b.x) / 2)
	if err != nil {
		return err
	}
	if depth == maxDepth || t.fits([]knot{a, p, m, q, b}) {
		return t.emit(b)
	}
	if err := t.refine(a, p, m, depth+1); err != nil {
		return err
	}
	return t.refine(m, q, b, depth+1)
}

var errTooFine = errors.New("shape: the tolerance needs more than 65536 knots")

func (t *fitter) emit(k knot) error {
	if len(t.knots) == maxKnots {
		return errTooFine
	}
	t.knots = append(t.knots, k)
	return nil
}

// fits tells whether the cubic between the first and the last point is within
// the tolerance at those between.
func (t *fitter) fits(points []knot) bool {
	last := len(points) - 1
	c := hermite(points[0], points[last])
	for _, p := range points[1:last] {
		if math.Abs(c.at(p.x)-p.y) > t.tol*max(math.Abs(p.x)/t.reach, 1e-3) {
			return false
		}
	}
	return true
}
