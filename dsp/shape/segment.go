package shape

import "math"

// path is the way of the signal between two samples, a cubic over s from 0 to 1:
//
//	x(s) = a + (b-a)·s - curve·s(1-s)/2 + bend·s(s-1/2)(s-1)/6
//
// curve being the second derivative in the middle and bend the third.
type path struct{ a, b, curve, bend float64 }

// moments are the integrals of a function over a path times the powers 0 to 3 of v = s-1/2.
type moments struct{ m0, m1, m2, m3 float64 }

// Gauss's rule of three points takes v = 0 and ±outer.
const outer = 0.3872983346207417 // sqrt(15)/10

// lean is how far the bend moves the points at ±outer, per bend.
const lean = outer * (outer*outer - 0.25) / 6

// segment returns the moments of f over the path, f being the law less its value at 0,
// from cell i to cell j.
func (l *Law) segment(p path, i, j int) moments {
	if !(math.Abs(p.b-p.a)+math.Abs(p.curve)+math.Abs(p.bend) <= math.MaxFloat64) {
		none := math.NaN()
		return moments{none, none, none, none}
	}
	s, turns := p.turn()
	if !turns {
		return l.oneWay(p, i, j)
	}
	first, second := p.split(s)
	at := l.index.find(first.b)
	if i == j && i == at {
		if _, again := second.turn(); !again {
			return l.oneWay(p, i, j)
		}
	}
	return combine(s, l.oneWay(first, i, at), l.segment(second, at, j))
}

// turn returns the first s within a path at which it turns, and false if there is none.
func (p path) turn() (s float64, ok bool) {
	const end = 0.5 - 1e-6 // a path cut at a turn begins with one
	d := p.b - p.a
	if math.Abs(p.curve)+math.Abs(p.bend)/6 <= 2*math.Abs(d) {
		return 0, false
	}
	// bend/2·v² + curve·v + d - bend/24 = 0
	half, low := 0.5*p.bend, d-p.bend/24
	root := p.curve*p.curve - 4*half*low
	if root < 0 {
		return 0, false
	}
	sum := -0.5 * (p.curve + math.Copysign(math.Sqrt(root), p.curve))
	v := math.Inf(1)
	for _, at := range [2]float64{sum / half, low / sum} {
		if at > -end && at < end {
			v = min(v, at)
		}
	}
	return v + 0.5, v < end
}

// oneWay is segment for a path that does not turn, or keeps to one cell. It takes
// the first way that is exact enough: three points, the same on both sides of a
// corner, the antiderivatives at the ends, or two halves.
func (l *Law) oneWay(p path, i, j int) moments {
	low, high := &l.cells[min(i, j)], &l.cells[max(i, j)]
	d := math.Abs(p.b - p.a)
	switch {
	case i == j:
		return p.sampled(low, low)
	case max(i-j, j-i) == 1 && d <= min(low.width, high.width):
		if low.joins {
			return p.sampled(low, high)
		}
		return p.cornered(&l.cells[i], &l.cells[j], high.start())
	case math.Abs(p.curve) <= d/64 && math.Abs(p.bend) <= d/32:
		if m, ok := l.leap(p, i, j); ok {
			return m
		}
	}
	first, second := p.split(0.5)
	at := l.index.find(first.b)
	return combine(0.5, l.oneWay(first, i, at), l.oneWay(second, at, j))
}

// sampled takes the moments by Gauss's rule, which is exact up to the fifth
// power, in one cell or two adjoining ones. Over a path as long as a cell it misses
// less than the quintic does, unless the law has a corner between the two.
func (p path) sampled(low, high *cell) moments {
	knot := high.start()
	x0, x1, x2 := p.gauss(0.5 * (p.a + p.b))
	f0, f1, f2 := across(low, high, knot, x0), across(low, high, knot, x1), across(low, high, knot, x2)
	return sampledMoments(f0+f2, f1, f2-f0)
}

// gauss returns the three points of Gauss's rule on a path about m, the middle of its ends.
func (p *path) gauss(m float64) (x0, x1, x2 float64) {
	e := outer*(p.b-p.a) + lean*p.bend
	side := m - 0.05*p.curve // curve·s(1-s)/2 at s = 1/2±outer
	return side - e, m - 0.125*p.curve, side + e
}

// sampledMoments makes the moments of the sum and the difference of f at ±outer and f in
// the middle.
func sampledMoments(sum, middle, difference float64) moments {
	m1 := outer * 5 / 18 * difference
	return moments{(5./18)*sum + (8./18)*middle, m1, sum / 24, 0.15 * m1}
}

// across returns the value at x of two cells that adjoin at the knot.
func across(low, high *cell, knot, x float64) float64 {
	c := high
	if x < knot {
		c = low
	}
	return c.at(x)
}

// cornered takes them apart on both sides of the knot between the cells of a and
// b.
func (p path) cornered(ofA, ofB *cell, knot float64) moments {
	s := p.crossing(knot)
	first, second := p.split(s)
	return combine(s, first.sampled(ofA, ofA), second.sampled(ofB, ofB))
}

// crossing returns the s at which a path comes to x, which lies between its ends and to
// which it goes one way: that of its parabola, mended by Newton's method.
func (p path) crossing(x float64) float64 {
	d := p.b - p.a
	if d < 0 {
		return path{-p.a, -p.b, -p.curve, -p.bend}.crossing(-x)
	}
	// curve/2·s² + slope·s = x - a without the bend
	slope, rise := d-0.5*p.curve, x-p.a
	root := math.Sqrt(max(0, slope*slope+2*p.curve*rise))
	s := 2 * rise / (slope + root)
	if slope < 0 {
		s = (root - slope) / p.curve
	}
	for range 4 {
		v := s - 0.5
		step := (p.at(s) - x) / (d + p.curve*v + p.bend*(3*v*v-0.25)/6)
		if !(math.Abs(step) > 1e-12) {
			break
		}
		s -= step
	}
	if math.IsNaN(s) { // both ends within rounding of x
		return 0.5
	}
	return max(0, min(1, s))
}

// at returns x(s).
func (p path) at(s float64) float64 {
	return p.a + (p.b-p.a)*s - 0.5*p.curve*s*(1-s) + p.bend*s*(s-0.5)*(s-1)/6
}

// split cuts a path at s. The derivatives of a part are those in its own middle, in its own
// length.
func (p path) split(s float64) (first, second path) {
	m, r := p.at(s), 1-s
	return path{p.a, m, s * s * (p.curve - p.bend*r/2), p.bend * s * s * s},
		path{m, p.b, r * r * (p.curve + p.bend*s/2), p.bend * r * r * r}
}

// combine makes the moments of a path of those of its parts before and after s.
func combine(s float64, first, second moments) moments {
	a, b := first.within(s, -0.5*(1-s)), second.within(1-s, 0.5*s)
	return moments{a.m0 + b.m0, a.m1 + b.m1, a.m2 + b.m2, a.m3 + b.m3}
}

// within returns what the moments of a part with the given share, whose middle is at v =
// middle, add to those of the whole.
func (m moments) within(share, middle float64) moments {
	m0, m1, m2, m3 := m.m0, share*m.m1, share*share*m.m2, share*share*share*m.m3
	return moments{
		share * m0,
		share * (middle*m0 + m1),
		share * (middle*(middle*m0+2*m1) + m2),
		share * (middle*(middle*(middle*m0+3*m1)+3*m2) + m3),
	}
}

// leap takes the moments from the antiderivatives F1 to F4 of f at the two ends. With those
// along the chord of length d, k0 to k3, by integration by parts, and
//
//	r = curve/d, t = bend/d, E = 12·k2 - k0, G = 4·k3 - k1/2
//
// the Taylor series in curve and bend gives k0 - r·k1 + (r²/8 - t/24)·E, k1 - r·E/8 - t·G/6
// and k2 - r·G/2. What is neglected is at most a few thousandths of r or t of the third
// moment. leap declines if the rounding errors of the antiderivatives, divided by the
// length of the chord, could be seen.
func (l *Law) leap(p path, i, j int) (moments, bool) {
	f, g := l.antiderivatives(i, p.a), l.antiderivatives(j, p.b)
	per := 1 / (p.b - p.a)
	grain := (l.integrals[i].grain + l.integrals[j].grain) * (per * per) * (per * per)
	if !(grain < l.grain) {
		return moments{}, false
	}
	d1, d2, d3, d4 := g.first-f.first, (g.second-f.second)*per, (g.third-f.third)*per*per, (g.fourth-f.fourth)*per*per*per
	s1, s2, s3 := g.first+f.first, (g.second+f.second)*per, (g.third+f.third)*per*per
	k0 := d1 * per
	k1 := (0.5*s1 - d2) * per
	k2 := (0.25*d1 - s2 + 2*d3) * per
	k3 := (0.125*s1 - 0.75*d2 + 3*s3 - 6*d4) * per
	r, t, e, h := p.curve*per, p.bend*per, 12*k2-k0, 4*k3-0.5*k1
	return moments{k0 - r*k1 + (r*r/8-t/24)*e, k1 - r*e/8 - t*h/6, k2 - r*h/2, k3}, true
}

// antiderivatives returns those at x in cell i.
func (l *Law) antiderivatives(i int, x float64) antiderivatives {
	return l.integrals[i].to(x - l.cells[i].middle)
}
