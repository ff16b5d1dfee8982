package shape

import "math"

// segment returns the integrals of f - rest and of (s-1/2)·(f - rest) over s from
// 0 to 1, x running evenly from a in cell i to b in cell j.
func (l *Law) segment(a, b float64, i, j int) (mean, tilt float64) {
	if i == j {
		return l.cells[i].moments(a, b)
	}
	if i > j {
		mean, tilt = l.across(b, a, j, i)
		return mean, -tilt
	}
	return l.across(a, b, i, j)
}

// across is segment for a < b in different cells.
func (l *Law) across(a, b float64, i, j int) (mean, tilt float64) {
	d := b - a
	if j-i > 2 {
		from, to := l.stepTo(i, a), l.stepTo(j, b)
		if guard := math.Abs(from.second) + math.Abs(to.second); d*d*1e3 > guard {
			mean = (to.first - from.first) / d
			tilt = (to.first+from.first)/(2*d) - (to.second-from.second)/(d*d)
			return mean, tilt
		}
	}
	return l.walk(a, b, i, j)
}

// walk adds up the pieces of a segment cell by cell.
func (l *Law) walk(a, b float64, i, j int) (mean, tilt float64) {
	per := 1 / (b - a)
	p := a
	for ; i <= j; i++ {
		c := &l.cells[i]
		q := min(b, c.end)
		part, lean := c.moments(p, q)
		h := (q - p) * per
		middle := (0.5*(p+q)-a)*per - 0.5
		mean += h * part
		tilt += h * (middle*part + h*lean)
		p = q
	}
	return mean, tilt
}
