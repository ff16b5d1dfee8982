package shape

import "math"

// limitSlopes makes every cubic between two knots monotone if the knots are, by
// the sufficient condition of Fritsch and Carlson (SIAM J. Numer. Anal. 17, 1980):
// both slopes at most three times the slope of the chord.
func limitSlopes(knots []knot) {
	rising, falling := true, true
	for i := range knots[1:] {
		rising = rising && knots[i+1].y >= knots[i].y
		falling = falling && knots[i+1].y <= knots[i].y
	}
	if !rising && !falling {
		return
	}
	for i := range knots[1:] {
		a, b := &knots[i], &knots[i+1]
		limit := 3 * (b.y - a.y) / (b.x - a.x)
		a.slope, b.slope = within(a.slope, limit), within(b.slope, limit)
	}
}

// within cuts v to the interval between 0 and limit.
func within(v, limit float64) float64 {
	if limit < 0 {
		return -within(-v, -limit)
	}
	return math.Max(0, math.Min(v, limit))
}
