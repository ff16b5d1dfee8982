package plot

import "slices"

// Band shades a range of X over the whole height.
type Band struct {
	Lo, Hi float64
	Label  string
}

// Rule is a line across the area at a value of Y, or of X when Vertical.
type Rule struct {
	At       float64
	Vertical bool
	Label    string
}

// Note is a remark at a point.
type Note struct {
	X, Y float64
	Text string
}

// box is a rectangle taken by text, px.
type box struct{ x, y, w, h float64 }

func (b box) meets(o box) bool {
	return b.x < o.x+o.w && o.x < b.x+b.w && b.y < o.y+o.h && o.y < b.y+b.h
}

func (b box) inside(a area) bool {
	return b.x >= a.x && b.y >= a.y && b.x+b.w <= a.x+a.w && b.y+b.h <= a.y+a.h
}

func (f *Figure) drawBands(c *canvas, p plan) {
	a := p.area
	for _, b := range f.Bands {
		lo := min(max(f.X.Position(b.Lo), 0), 1)
		hi := min(max(f.X.Position(b.Hi), 0), 1)
		if hi > lo {
			c.leaf("rect", "class", "band", "x", num(a.x+lo*a.w), "y", num(a.y), "width", num((hi-lo)*a.w), "height", num(a.h))
		}
	}
}

func (f *Figure) drawRules(c *canvas, p plan) {
	a := p.area
	for _, r := range f.Rules {
		ends := []point{{a.x, a.y + (1-f.Y.Position(r.At))*a.h}, {a.x + a.w, 0}}
		ends[1].y = ends[0].y
		if r.Vertical {
			x := a.x + f.X.Position(r.At)*a.w
			ends = []point{{x, a.y}, {x, a.y + a.h}}
		}
		c.leaf("path", "class", "rule", "d", encode([][]point{ends}))
	}
}

// drawNotes writes the labels of bands and rules and the notes, each near its
// place and clear of those before it. A text that finds no free place is left
// out of the drawing.
func (f *Figure) drawNotes(c *canvas, p plan) {
	var taken []box
	for _, n := range f.allNotes() {
		if n.Text == "" {
			continue
		}
		x, y := f.at(n.X, n.Y, p.area)
		if at, ok := place(n.Text, point{p.area.x + x, p.area.y + y}, p.area, taken); ok {
			taken = append(taken, at)
			c.text(at.x+2, at.y+at.h-3, "start", "note", n.Text)
		}
	}
}

func (f *Figure) allNotes() []Note {
	notes := make([]Note, 0, len(f.Notes)+len(f.Bands)+len(f.Rules))
	for _, r := range f.Rules {
		at := Note{f.X.Lo, r.At, r.Label}
		if r.Vertical {
			at = Note{r.At, f.Y.Hi, r.Label}
		}
		notes = append(notes, at)
	}
	for _, b := range f.Bands {
		notes = append(notes, Note{max(b.Lo, f.X.Lo), f.Y.Hi, b.Label})
	}
	return append(notes, f.Notes...)
}

// place finds room for a text around a point: to the right or left, above or
// below, then further away up and down.
func place(text string, at point, a area, taken []box) (box, bool) {
	w := textWidth(text, tickSize) + 4
	const h = tickSize + 4
	for _, dy := range []float64{-h - 1, 1, -2*h - 2, h + 2, -3*h - 3, 2*h + 3, 3*h + 4, -4*h - 4} {
		for _, dx := range []float64{2, -w - 2, -w / 2} {
			b := box{at.x + dx, at.y + dy, w, h}
			if b.inside(a) && !meetsAny(b, taken) {
				return b, true
			}
		}
	}
	return box{}, false
}

func meetsAny(b box, taken []box) bool {
	return slices.ContainsFunc(taken, b.meets)
}
