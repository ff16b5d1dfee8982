package shape

import "math"

// join marks where paths may go from one cell into the next as if the law were one
// smooth curve there.
func join(cells []cell, tolerance func(x float64) float64) {
	for i := range cells[1:] {
		low, high := &cells[i], &cells[i+1]
		low.joins = smooth(low, high, tolerance(high.start()))
	}
	for i := 1; i < len(cells)-1; i++ {
		extend(&cells[i], &cells[i-1], &cells[i+1], tolerance)
	}
}

// extend marks how far beyond its ends a cell serves for the law: a quarter, an eighth or
// nothing of its half width, and how much a path that ends there may curve.
func extend(c, before, after *cell, tolerance func(x float64) float64) {
	curve := c.half / 4
	over := curve / 8 // how far a path turns beyond its ends
	within := min(tolerance(c.start()), tolerance(c.end()))
	miss := func(beyond float64) float64 {
		if beyond > min(before.width, after.width) {
			return math.Inf(1)
		}
		return max(
			math.Abs(c.at(c.start()-beyond)-before.at(c.start()-beyond)),
			math.Abs(c.at(c.end()+beyond)-after.at(c.end()+beyond)),
		)
	}
	for _, beyond := range []float64{c.half / 4, c.half / 8, 0} {
		if max(miss(beyond), miss(beyond/2)) <= within && miss(beyond+over) <= 10*within {
			reach := c.half + beyond
			c.reach, c.bow = reach*reach, curve*curve
			return
		}
	}
}

// smooth tells whether paths across the knot between two cells, up to the width of
// the narrower, may be sampled as one: within the tolerance of what the two parts
// make.
func smooth(low, high *cell, tolerance float64) bool {
	knot, width := high.start(), min(low.width, high.width)
	worst := 0.0
	for _, s := range []float64{0.15, 0.3, 0.5, 0.7, 0.85} { // at the knot
		p := path{a: knot - s*width, b: knot + (1-s)*width}
		one, two := p.sampled(low, high), p.cornered(low, high, knot)
		worst = max(worst, math.Abs(one.m0-two.m0), math.Abs(one.m1-two.m1))
	}
	return worst <= tolerance
}
