package shape

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
)

const (
	gridCells   = 2048     // the coarsest look at the function, a multiple of buckets
	sketchCells = 256      // the same of a sketch
	maxCells    = 1 << 15  // must fit the index
	maxDepth    = 9        // halvings of a cell of gridCells: maxSlots·buckets/gridCells
	floor       = 1. / 1e3 // minimum tolerance over tol
)

// Fit makes a law of the function f on [lo, hi]. f returns the value and the
// slope at x; an error of f ends the fit and is returned.
//
// The range is halved until every quintic, through values and slopes at its ends
// and middle, is within the tolerance of f at the points looked at in between:
// all of 2049 even ones, and two in a shorter cell. The tolerance is tol, in units
// of f, at the end of the range that lies farther from 0, and shrinks in
// proportion to |x| down to tol/1000, so that a weak signal about 0 is served as
// well in proportion as a strong one. A tol of 1e-7 times the maximum value
// leaves errors near -140 dB; more costs speed.
//
// If f is monotone in the even points, so is the law, to 1e-12 of its maximum
// value. A corner of f is met by ever shorter cells down to 2^-20 of the range and
// a straight line there; [Law.Deviation] tells what is left.
//
// lo < hi and tol > 0 must hold, all finite, and f must be finite on [lo, hi], or
// Fit returns an error; so it does when more than 32768 cells would be needed, as
// with a tolerance below the noise of f.
func Fit(f func(x float64) (y, slope float64, err error), lo, hi, tol float64) (*Law, error) {
	return fit(f, lo, hi, tol, gridCells)
}

// Sketch is [Fit] from a look at 257 even points instead of 2049, for who cannot wait:
// a smooth law takes an eighth of the calls of f. What is narrower than 1/256 of the
// range may be missed away from 0, where the tolerance is not at its tightest.
func Sketch(f func(x float64) (y, slope float64, err error), lo, hi, tol float64) (*Law, error) {
	return fit(f, lo, hi, tol, sketchCells)
}

func fit(f func(x float64) (y, slope float64, err error), lo, hi, tol float64, cells int) (*Law, error) {
	if !(lo < hi) || math.IsInf(hi-lo, 0) {
		return nil, fmt.Errorf("shape: range from %g to %g: the low end must be finite and below the high end", lo, hi)
	}
	if !(tol > 0) {
		return nil, fmt.Errorf("shape: tolerance %g: must be above 0", tol)
	}
	t := &fitter{f: f, tolerances: tolerances{tol: tol, reach: max(math.Abs(lo), math.Abs(hi))}}
	t.depth = maxDepth + bits.TrailingZeros(gridCells) - bits.TrailingZeros(uint(cells))
	grid, err := t.grid(lo, hi, cells)
	if err != nil {
		return nil, err
	}
	t.sign, t.grain = direction(grid)
	if err := t.cover(grid); err != nil {
		return nil, err
	}
	l := joined(t.pieces, t.tolerances)
	for _, p := range t.seen {
		l.worst = max(l.worst, math.Abs(l.At(p.x)-p.y))
	}
	return l, nil
}

type fitter struct {
	f func(x float64) (y, slope float64, err error)
	tolerances
	depth  int     // halvings of a grid cell
	sign   float64 // 1 for a rising law, -1 for a falling one, 0 for neither
	grain  float64 // how far it may run the other way
	seen   []knot  // everything looked at
	pieces []piece
}

// tolerances are the maximum errors over a range: tol at reach.
type tolerances struct{ tol, reach float64 }

// tolerance returns the maximum error allowed at x.
func (t tolerances) tolerance(x float64) float64 {
	return t.tol * max(math.Abs(x)/t.reach, floor)
}

func (t *fitter) look(x float64) (knot, error) {
	y, slope, err := t.f(x)
	if err != nil {
		return knot{}, fmt.Errorf("shape: law at %g: %w", x, err)
	}
	if math.IsNaN(y+slope) || math.IsInf(y+slope, 0) {
		return knot{}, fmt.Errorf("shape: law at %g: value %g, slope %g: must be finite", x, y, slope)
	}
	k := knot{x, y, slope}
	t.seen = append(t.seen, k)
	return k, nil
}

func (t *fitter) grid(lo, hi float64, cells int) ([]knot, error) {
	grid := make([]knot, cells+1)
	for i := range grid {
		s := float64(i) / float64(cells)
		k, err := t.look(lo*(1-s) + hi*s)
		if err != nil {
			return nil, err
		}
		grid[i] = k
	}
	return grid, nil
}

// direction returns the sign of the slope of a monotone law, 0 for any other, and
// the rounding error of its maximum value.
func direction(grid []knot) (sign, grain float64) {
	rising, falling := true, true
	maximum := math.Abs(grid[0].y)
	for i := range grid[1:] {
		rising = rising && grid[i+1].y >= grid[i].y
		falling = falling && grid[i+1].y <= grid[i].y
		maximum = max(maximum, math.Abs(grid[i+1].y))
	}
	switch {
	case rising:
		sign = 1
	case falling:
		sign = -1
	}
	return sign, 1e-12 * maximum
}

// cover emits the pieces of a grid of 2^n points and one.
func (t *fitter) cover(grid []knot) error {
	last := len(grid) - 1
	if last == 2 {
		return t.refine(piece{grid[0], grid[1], grid[2]}, 0)
	}
	if p := (piece{grid[0], grid[last/2], grid[last]}); t.fits(p, grid) {
		return t.emit(p)
	}
	if err := t.cover(grid[:last/2+1]); err != nil {
		return err
	}
	return t.cover(grid[last/2:])
}

// refine emits p in as many pieces as it takes.
func (t *fitter) refine(p piece, depth int) error {
	left, err := t.look((p.a.x + p.m.x) / 2)
	if err != nil {
		return err
	}
	right, err := t.look((p.m.x + p.b.x) / 2)
	if err != nil {
		return err
	}
	if t.fits(p, []knot{left, right}) {
		return t.emit(p)
	}
	if depth == t.depth {
		return t.emit(chord(p.a, p.b))
	}
	if err := t.refine(piece{p.a, left, p.m}, depth+1); err != nil {
		return err
	}
	return t.refine(piece{p.m, right, p.b}, depth+1)
}

// fits tells whether the quintic of p is within the tolerance at the points and
// keeps to the direction of the law.
func (t *fitter) fits(p piece, points []knot) bool {
	c := p.quintic()
	for _, k := range points {
		if !(math.Abs(c.at(k.x)-k.y) <= t.tolerance(k.x)) {
			return false
		}
	}
	return t.sign == 0 || c.turns(t.sign) <= t.grain
}

var errTooFine = errors.New("shape: the tolerance needs more than 32768 cells")

func (t *fitter) emit(p piece) error {
	if len(t.pieces) == maxCells {
		return errTooFine
	}
	t.pieces = append(t.pieces, p)
	return nil
}
