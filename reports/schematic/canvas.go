package schematic

import (
	"html"
	"math"
	"strconv"
	"strings"

	"quietcross/stage/drawing"
)

// unit is the length of a grid unit, px.
const unit = 10.0

// canvas writes SVG elements. Attribute values and text are escaped; names are
// literals of this package.
type canvas struct{ strings.Builder }

func (c *canvas) open(name string, attributes ...string) {
	c.start(name, attributes)
	c.WriteByte('>')
}

func (c *canvas) close(name string) { c.WriteString("</" + name + ">") }

func (c *canvas) leaf(name string, attributes ...string) {
	c.start(name, attributes)
	c.WriteString("/>")
}

func (c *canvas) element(name, content string, attributes ...string) {
	c.open(name, attributes...)
	c.WriteString(escape(content))
	c.close(name)
}

func (c *canvas) start(name string, attributes []string) {
	c.WriteString("\n<" + name)
	for i := 0; i < len(attributes); i += 2 {
		c.WriteString(" " + attributes[i] + `="` + escape(attributes[i+1]) + `"`)
	}
}

// escape makes text safe inside elements and quoted attributes, and replaces
// characters that XML does not allow at all.
func escape(text string) string {
	legal := strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xfffe || r == 0xffff {
			return 0xfffd
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
	return html.EscapeString(legal)
}

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
	c.leaf("path", "class", "wire", "d", path.String())
}

func drawDots(c *canvas, d drawing.Drawing) {
	for _, p := range d.Dots {
		c.leaf("circle", "class", "dot", "cx", num(unit*float64(p.X)), "cy", num(unit*float64(p.Y)), "r", "2.6")
	}
}
