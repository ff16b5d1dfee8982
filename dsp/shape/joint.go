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
		c := &cells[i]
		before, after := &cells[i-1], &cells[i+1]
		curve := c.half / 4
		over := curve / 8 // how far a path turns beyond its ends
		miss := max(
			math.Abs(c.at(c.start()-over)-before.at(c.start()-over)),
			math.Abs(c.at(c.end()+over)-after.at(c.end()+over)),
		)
		if miss <= 10*tolerance(c.middle) {
			c.bow = curve * curve
		}
	}
}

// smooth tells whether paths across the knot between two cells, up to the width of
// the narrower, may be sampled as one: within the tolerance of what the two parts
// make.
func smooth(low, high *cell, tolerance float64) bool {
	knot, width := high.start(), min(low.width(), high.width())
	worst := 0.0
	for _, s := range []float64{0.15, 0.3, 0.5, 0.7, 0.85} { // at the knot
		p := path{a: knot - s*width, b: knot + (1-s)*width}
		m1, t1 := p.sampled(low, high)
		m2, t2 := p.cornered(low, high, knot)
		worst = max(worst, math.Abs(m1-m2), math.Abs(t1-t2))
	}
	return worst <= tolerance
}
