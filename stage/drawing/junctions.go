package drawing

import (
	"cmp"
	"slices"
)

// junctions finds where three or more ways meet: ends of wires and terminals of
// parts one each, a wire that passes two.
func (d *Drawing) junctions() []Point {
	ways := map[Point]int{}
	for _, p := range d.Parts {
		if p.Kind != Terminal {
			for _, pin := range p.Pins() {
				ways[pin.At]++
			}
		}
	}
	for _, w := range d.Wires {
		ways[w[0]]++
		ways[w[len(w)-1]]++
	}
	var dots []Point
	for at, n := range ways {
		for _, w := range d.Wires {
			if passes(w, at) {
				n += 2
			}
		}
		if n >= 3 {
			dots = append(dots, at)
		}
	}
	slices.SortFunc(dots, func(a, b Point) int { return cmp.Or(a.X-b.X, a.Y-b.Y) })
	return dots
}

// passes reports whether a wire goes through a point other than its ends.
func passes(wire []Point, at Point) bool {
	if at == wire[0] || at == wire[len(wire)-1] {
		return false
	}
	for i := 1; i < len(wire); i++ {
		if between(wire[i-1], wire[i], at) {
			return true
		}
	}
	return false
}

// between reports whether a point lies on a horizontal or vertical stretch, ends
// included.
func between(a, b, at Point) bool {
	return at.X >= min(a.X, b.X) && at.X <= max(a.X, b.X) && at.Y >= min(a.Y, b.Y) && at.Y <= max(a.Y, b.Y)
}
