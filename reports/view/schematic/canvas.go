package schematic

import (
	"math"
	"strconv"
	"strings"

	"quietcross/reports/view/svg"
	"quietcross/stage/drawing"
)

// unit is the length of a grid unit, px.
const unit = 10.0

// canvas writes the elements of a schematic, each on a line of its own.
type canvas struct{ svg.Canvas }

func newCanvas() *canvas { return &canvas{svg.Canvas{Lines: true}} }

// num writes a coordinate with at most one decimal.
func num(v float64) string {
	return strconv.FormatFloat(math.Round(10*v)/10+0, 'f', -1, 64)
}

func drawWires(c *canvas, d drawing.Drawing) {
	var path strings.Builder
	for _, w := range d.Wires {
		for i, p := range w {
			letter := "L"
			if i == 0 {
				letter = "M"
			}
			path.WriteString(letter + num(unit*float64(p.X)) + " " + num(unit*float64(p.Y)))
		}
	}
	c.Leaf("path", "class", "wire", "d", path.String())
}

func drawDots(c *canvas, d drawing.Drawing) {
	for _, p := range d.Dots {
		c.Leaf("circle", "class", "dot", "cx", num(unit*float64(p.X)), "cy", num(unit*float64(p.Y)), "r", "2.6")
	}
}
