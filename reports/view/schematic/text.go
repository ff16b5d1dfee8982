package schematic

import (
	"strings"

	"quietcross/reports/view/svg"
	"quietcross/stage/drawing"
)

const (
	textSize = 13.0 // px
	subSize  = 9.5
	lineStep = 15.0
)

// run is a piece of a line of text in one style.
type run struct{ text, class string }

// text is one line at its place, px; y is the middle of its height.
type text struct {
	x, y  float64
	align drawing.Align
	runs  []run
}

func (t text) draw(c *canvas) {
	anchor := [...]string{drawing.Start: "start", drawing.Middle: "middle", drawing.End: "end"}[t.align]
	c.Open("text", "x", num(t.x), "y", num(t.y+0.36*textSize), "text-anchor", anchor)
	lowered := false
	for _, r := range t.runs {
		attributes := []string{"class", r.class}
		if sub := r.class == "sub"; sub != lowered {
			dy := "3"
			if lowered {
				dy = "-3"
			}
			attributes = append(attributes, "dy", dy)
			lowered = sub
		}
		c.span(r.text, attributes)
	}
	c.WriteString("</text>")
}

// span writes a tspan without white space around it.
func (c *canvas) span(content string, attributes []string) {
	c.WriteString("<tspan")
	for i := 0; i < len(attributes); i += 2 {
		if attributes[i+1] != "" {
			c.WriteString(" " + attributes[i] + `="` + svg.Escape(attributes[i+1]) + `"`)
		}
	}
	c.WriteString(">" + svg.Escape(content) + "</tspan>")
}

// box is a rectangle, px.
type box struct{ x, y, w, h float64 }

func (b box) meets(o box) bool {
	return b.x < o.x+o.w && o.x < b.x+b.w && b.y < o.y+o.h && o.y < b.y+b.h
}

// wider returns the box with a rim around it.
func (b box) wider(rim float64) box { return box{b.x - rim, b.y - rim, b.w + 2*rim, b.h + 2*rim} }

// around returns the minimum box that holds both.
func (b box) around(o box) box {
	x, y := min(b.x, o.x), min(b.y, o.y)
	return box{x, y, max(b.x+b.w, o.x+o.w) - x, max(b.y+b.h, o.y+o.h) - y}
}

// box estimates the room that a line takes.
func (t text) box() box {
	w := 0.0
	for _, r := range t.runs {
		w += width(r)
	}
	x := t.x
	switch t.align {
	case drawing.Middle:
		x -= w / 2
	case drawing.End:
		x -= w
	}
	return box{x, t.y - 0.5*textSize, w, textSize}
}

// width estimates the width of a run in a common sans-serif face, on the wide
// side, for there is no font to measure.
func width(r run) float64 {
	size := textSize
	switch r.class {
	case "sub":
		size = subSize
	case "name":
		size *= 1.1
	}
	sum := 0.0
	for _, letter := range r.text {
		sum += letterWidth(letter)
	}
	return sum * size
}

// letterWidth is in units of the text's size, about that of the widest of the
// faces in use.
func letterWidth(r rune) float64 {
	switch {
	case strings.ContainsRune("ijl.,:; \u00a0", r):
		return 0.33
	case strings.ContainsRune("tfr()-", r):
		return 0.41
	case r == '+' || r == '−':
		return 0.84
	case r == 'm' || r == 'w' || r == 'M' || r == 'W':
		return 0.98
	case r >= 'A' && r <= 'Z' || r == 'Ω':
		return 0.74
	case r < 0x2100:
		return 0.63
	}
	return 0.85
}
