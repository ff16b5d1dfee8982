package plot

import (
	"math"
	"sort"
)

// point is a place in the plot area, px.
type point struct{ x, y float64 }

// envelope maps a trace to px and reduces it to at most two points a pixel
// column: the minimum and the maximum value in that column, in their order. No
// peak is lost, and the size is bounded by the width of the figure however long
// the trace. Each NaN opens a new polyline.
func (f *Figure) envelope(xs, ys []float64, a area) [][]point {
	lo, hi := visible(xs, f.X)
	var lines [][]point
	var line []point
	var col column
	for i := lo; i < hi; i++ {
		if math.IsNaN(ys[i]) {
			line = col.flush(line)
			if len(line) > 0 {
				lines = append(lines, line)
			}
			line = nil
			continue
		}
		x, y := f.at(xs[i], ys[i], a)
		p := point{clamp(x, a.w), clamp(y, a.h)}
		if !col.holds(p) {
			line = col.flush(line)
		}
		col.add(p)
	}
	if line = col.flush(line); len(line) > 0 {
		lines = append(lines, line)
	}
	return lines
}

// visible returns the range of indices inside the axis, with one neighbour on
// either side so that lines reach the edge.
func visible(xs []float64, axis Axis) (lo, hi int) {
	lo = sort.SearchFloat64s(xs, axis.Lo)
	hi = sort.Search(len(xs), func(i int) bool { return xs[i] > axis.Hi })
	return max(lo-1, 0), min(hi+1, len(xs))
}

// clamp keeps far-away values near the area, so that coordinates stay short.
func clamp(v, size float64) float64 { return min(max(v, -size), 2*size) }

// column gathers the points of one pixel column.
type column struct {
	index        float64
	count        int
	minimum      point
	maximum      point
	minimumFirst bool
}

func (c *column) holds(p point) bool { return c.count > 0 && math.Floor(p.x) == c.index }

func (c *column) add(p point) {
	if c.count == 0 {
		*c = column{index: math.Floor(p.x), minimum: p, maximum: p}
	}
	c.count++
	if p.y < c.minimum.y {
		c.minimum, c.minimumFirst = p, false
	}
	if p.y > c.maximum.y {
		c.maximum, c.minimumFirst = p, true
	}
}

// flush appends the column's points and empties it.
func (c *column) flush(line []point) []point {
	switch {
	case c.count == 0:
		return line
	case c.minimum == c.maximum:
		line = append(line, c.minimum)
	case c.minimumFirst:
		line = append(line, c.minimum, c.maximum)
	default:
		line = append(line, c.maximum, c.minimum)
	}
	c.count = 0
	return line
}
