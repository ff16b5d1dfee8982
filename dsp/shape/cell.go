package shape

import "math"

// cell is one quintic of a law: c0 + c1·u + … + c5·u⁵ with u = x - middle, for
// |u| <= half.
type cell struct {
	middle                 float64
	half                   float64 // 0 for a straight line without end
	width                  float64 // without end for such a line
	reach                  float64 // square of how far from the middle it serves, or -1 for such a line
	bow                    float64 // square of the maximum curve of a path in it that may leave it a little
	c0, c1, c2, c3, c4, c5 float64
	joins                  bool // smoothly with the next one
}

// piece is a stretch of a law: a knot at each end and one in the middle.
type piece struct{ a, m, b knot }

// quintic is the polynomial with the values and slopes of the three knots.
func (p piece) quintic() cell {
	h := (p.b.x - p.a.x) / 2
	// In v = u/h, even and odd part apart: values and slopes at v = 0 and 1.
	even, evenSlope := (p.b.y+p.a.y)/2-p.m.y, h*(p.b.slope-p.a.slope)/2
	odd, oddSlope := (p.b.y-p.a.y)/2-h*p.m.slope, h*((p.b.slope+p.a.slope)/2-p.m.slope)
	v4, v5 := evenSlope/2-even, (oddSlope-3*odd)/2
	return cell{
		middle: p.m.x,
		half:   h,
		width:  2 * h,
		reach:  h * h,
		c0:     p.m.y,
		c1:     p.m.slope,
		c2:     (even - v4) / (h * h),
		c3:     (odd - v5) / (h * h * h),
		c4:     v4 / (h * h * h * h),
		c5:     v5 / (h * h * h * h * h),
	}
}

// ray is the straight line through k.
func ray(k knot) cell {
	return cell{middle: k.x, width: math.Inf(1), reach: -1, c0: k.y, c1: k.slope}
}

// chord is the piece with the straight line from a to b.
func chord(a, b knot) piece {
	slope := (b.y - a.y) / (b.x - a.x)
	m := knot{(a.x + b.x) / 2, (a.y + b.y) / 2, slope}
	return piece{knot{a.x, a.y, slope}, m, knot{b.x, b.y, slope}}
}

// start and end are the ends of a cell; of a straight line, its one end.
func (c *cell) start() float64 { return c.middle - c.half }
func (c *cell) end() float64   { return c.middle + c.half }

// value returns the quintic at u from the middle.
func (c *cell) value(u float64) float64 {
	return c.c0 + u*(c.c1+u*(c.c2+u*(c.c3+u*(c.c4+u*c.c5))))
}

// holds tells whether the quintic serves at x: in the cell, and so far beyond its ends as it
// is the law within the tolerance.
func (c *cell) holds(x float64) bool {
	u := x - c.middle
	return u*u <= c.reach
}

func (c *cell) at(x float64) float64 { return c.value(x - c.middle) }

func (c *cell) slope(x float64) float64 {
	u := x - c.middle
	return c.c1 + u*(2*c.c2+u*(3*c.c3+u*(4*c.c4+u*5*c.c5)))
}

// turns returns how far the quintic may run against the direction of sign within
// the cell: the width times the minimum of the Bernstein coefficients of its slope,
// which bound the slope, if that is below 0.
func (c *cell) turns(sign float64) float64 {
	h := sign * c.half
	s0, s1, s2, s3, s4 := c.c1*sign, 2*c.c2*h, 3*c.c3*h*c.half, 4*c.c4*h*c.half*c.half, 5*c.c5*h*c.half*c.half*c.half
	minimum := min(
		s0-s1+s2-s3+s4,
		s0-s1/2+s3/2-s4,
		s0-s2/3+s4,
		s0+s1/2-s3/2-s4,
		s0+s1+s2+s3+s4,
	)
	return -2 * c.half * min(0, minimum)
}
