package plot

import "quietcross/reports/view/svg"

// canvas writes the elements of a figure.
type canvas struct{ svg.Canvas }

// text writes one line of text; anchor is "start", "middle" or "end".
func (c *canvas) text(x, y float64, anchor, class, content string) {
	c.Element("text", content, "x", num(x), "y", num(y), "text-anchor", anchor, "class", class)
}
