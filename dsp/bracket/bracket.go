// Package bracket finds where a function of one variable crosses zero and where it
// is at its minimum, between two given ends.
//
// Both searches are Brent's (R. P. Brent, Algorithms for Minimization without
// Derivatives, 1973, chapters 4 and 5): interpolation through the last points
// while that gains, and a safe step, halving for the root, the golden section for
// the minimum, whenever it does not. They need about as many evaluations as the
// interpolation alone where the function is smooth, and never many more than the
// safe step where it is not. General-purpose libraries for Go have minimisers in
// many variables but neither of these two.
//
// The function may fail; its error ends the search and is returned as it is.
package bracket

import (
	"errors"
	"math"
)

// ErrSigns is returned where a function has the same sign at both ends.
var ErrSigns = errors.New("bracket: the function has the same sign at both ends")

// epsilon is the relative spacing of float64.
const epsilon = 0x1p-52

// steps bounds a search: halving a whole range of float64 to rounding takes fewer.
const steps = 2200

// Sure makes a function that cannot fail one of the kind that the searches take.
func Sure(f func(x float64) float64) func(x float64) (float64, error) {
	return func(x float64) (float64, error) { return f(x), nil }
}

// point is a place and the function's value there.
type point struct{ x, y float64 }

// Root returns where f crosses zero between lo and hi, within tolerance (>= 0, in
// units of x; 0: to rounding). f must have different signs at the two ends, or be
// zero at one; otherwise the error is ErrSigns. A value that is not a number counts
// as having no sign.
func Root(f func(x float64) (float64, error), lo, hi, tolerance float64) (float64, error) {
	a, b := point{x: lo}, point{x: hi}
	var err error
	if a.y, err = f(lo); err != nil {
		return 0, err
	}
	if b.y, err = f(hi); err != nil {
		return 0, err
	}
	if !(a.y <= 0 && b.y >= 0 || a.y >= 0 && b.y <= 0) {
		return 0, ErrSigns
	}
	// b is the best point, a the one before, and the root is between b and c.
	c := a
	step := b.x - a.x
	before := step
	for range steps {
		if (b.y > 0) == (c.y > 0) {
			c, step = a, b.x-a.x
			before = step
		}
		if math.Abs(c.y) < math.Abs(b.y) {
			a, b, c = b, c, b
		}
		close := 2*epsilon*math.Abs(b.x) + tolerance/2
		half := (c.x - b.x) / 2
		if b.y == 0 || math.Abs(half) <= close {
			break
		}
		step, before = rootStep(a, b, c, half, close, step, before)
		a = b
		if math.Abs(step) <= close {
			b.x += math.Copysign(close, half)
		} else {
			b.x += step
		}
		if b.y, err = f(b.x); err != nil {
			return 0, err
		}
	}
	return b.x, nil
}

// rootStep returns the step from b: through the last two or three points where that
// falls well inside the bracket and gains on the step before the last, else to the
// middle.
func rootStep(a, b, c point, half, close, step, before float64) (next, last float64) {
	if math.Abs(before) < close || math.Abs(a.y) <= math.Abs(b.y) {
		return half, half
	}
	s := b.y / a.y
	var p, q float64
	if a.x == c.x {
		p, q = 2*half*s, 1-s
	} else {
		q, p = a.y/c.y, b.y/c.y
		p, q = s*(2*half*q*(q-p)-(b.x-a.x)*(p-1)), (q-1)*(p-1)*(s-1)
	}
	if p > 0 {
		q = -q
	}
	p = math.Abs(p)
	if 2*p < min(3*half*q-math.Abs(close*q), math.Abs(before*q)) {
		return p / q, step
	}
	return half, half
}

// golden is the smaller part of the golden section.
const golden = 0.3819660112501051

// Minimum returns a place of a minimum of f between lo and hi, within tolerance (>= 0,
// in units of x), and the value there. Where f has several minima it is one of them.
// A minimum cannot be told more finely than about the square root of rounding; a
// smaller tolerance only costs evaluations.
func Minimum(f func(x float64) (float64, error), lo, hi, tolerance float64) (x, y float64, err error) {
	a, b := min(lo, hi), max(lo, hi)
	best := point{x: a + golden*(b-a)}
	if best.y, err = f(best.x); err != nil {
		return 0, 0, err
	}
	second, third := best, best
	step, before := 0.0, 0.0
	for range steps {
		middle := a + (b-a)/2
		close := 1e-8*math.Abs(best.x) + tolerance/3
		if math.Abs(best.x-middle) <= 2*close-(b-a)/2 {
			break
		}
		step, before = minimumStep(a, b, best, second, third, close, step, before)
		u := point{x: best.x + step}
		if math.Abs(step) < close {
			u.x = best.x + math.Copysign(close, step)
		}
		if u.y, err = f(u.x); err != nil {
			return 0, 0, err
		}
		if u.y <= best.y {
			a, b = narrowed(a, b, u.x, best.x)
			best, second, third = u, best, second
			continue
		}
		a, b = narrowed(a, b, best.x, u.x)
		switch {
		case u.y <= second.y || second.x == best.x:
			second, third = u, second
		case u.y <= third.y || third.x == best.x || third.x == second.x:
			third = u
		}
	}
	return best.x, best.y, nil
}

// narrowed returns the ends with the one beyond a worse point, seen from a better
// one, moved to it.
func narrowed(a, b, better, worse float64) (lo, hi float64) {
	if worse < better {
		return worse, b
	}
	return a, worse
}

// minimumStep returns the step from the best point: to the vertex of the parabola
// through the last three where that falls inside the bracket and is less than half
// of the step before the last, else by the golden section of the longer side.
func minimumStep(a, b float64, best, second, third point, close, step, before float64) (next, last float64) {
	section := a - best.x
	if best.x < a+(b-a)/2 {
		section = b - best.x
	}
	if math.Abs(before) <= close {
		return golden * section, section
	}
	r := (best.x - second.x) * (best.y - third.y)
	q := (best.x - third.x) * (best.y - second.y)
	p := (best.x-third.x)*q - (best.x-second.x)*r
	q = 2 * (q - r)
	if q > 0 {
		p = -p
	}
	q = math.Abs(q)
	if !(math.Abs(p) < math.Abs(q*before/2) && p > q*(a-best.x) && p < q*(b-best.x)) {
		return golden * section, section
	}
	next = p / q
	if u := best.x + next; u-a < 2*close || b-u < 2*close {
		next = math.Copysign(close, a+(b-a)/2-best.x)
	}
	return next, step
}
