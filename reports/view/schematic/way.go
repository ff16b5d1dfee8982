package schematic

import (
	"math"
	"strings"

	"quietcross/stage/drawing"
)

// A current is followed through a drawing from place to place: over its wires, and through
// its symbols from terminal to terminal. The way is drawn broad and pale below both, with
// arrows on its straight stretches.

// Way is the way that a current takes.
type Way struct {
	// Class is written as the CSS class beside "way": one word.
	Class string
	// Shift moves the way to the right and down, px, so that two on one wire stand beside
	// each other.
	Shift float64
	// Points are the corners in the current's direction, on the drawing's grid.
	Points []drawing.Point
}

const (
	wayWidth    = "7"
	arrowLength = 11.0 // px
	arrowHalf   = 6.5
	arrowRoom   = 2.5 * unit // stretches this long have an arrow
)

func (w Way) draw(c *canvas) {
	var line, arrows strings.Builder
	for i, p := range w.Points {
		x, y := unit*float64(p.X)+w.Shift, unit*float64(p.Y)+w.Shift
		if i == 0 {
			line.WriteString("M" + num(x) + " " + num(y))
			continue
		}
		line.WriteString("L" + num(x) + " " + num(y))
		before := w.Points[i-1]
		dx, dy := unit*float64(p.X-before.X), unit*float64(p.Y-before.Y)
		if length := math.Hypot(dx, dy); length >= arrowRoom {
			arrows.WriteString(arrowAt(x-dx/2, y-dy/2, dx/length, dy/length))
		}
	}
	c.Leaf("path", "class", "way "+w.Class, "d", line.String(), "stroke-width", wayWidth)
	c.Leaf("path", "class", "way-arrow "+w.Class, "d", arrows.String())
}

// arrowAt is a triangle about a place that points along a unit vector.
func arrowAt(x, y, dx, dy float64) string {
	tip := num(x+dx*arrowLength/2) + " " + num(y+dy*arrowLength/2)
	bx, by := x-dx*arrowLength/2, y-dy*arrowLength/2
	return "M" + tip + "L" + num(bx-dy*arrowHalf) + " " + num(by+dx*arrowHalf) + "L" + num(bx+dy*arrowHalf) + " " + num(by-dx*arrowHalf) + "Z"
}
