package plot

import (
	"math"
	"slices"
)

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

func (b box) holds(p point) bool {
	return p.x >= b.x && p.x <= b.x+b.w && p.y >= b.y && p.y <= b.y+b.h
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
			c.Leaf("rect", "class", "band", "x", num(a.x+lo*a.w), "y", num(a.y), "width", num((hi-lo)*a.w), "height", num(a.h))
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
		c.Leaf("path", "class", "rule", "d", encode([][]point{ends}))
	}
}

// drawNotes writes the labels of bands and rules and the notes, each near its
// place, clear of those before it and if possible of the traces too. A text that
// finds no free place is left out of the drawing, and so is the label of a
// horizontal rule that finds none clear of the traces.
func (f *Figure) drawNotes(c *canvas, p plan) {
	requests := f.requests()
	if len(requests) == 0 {
		return
	}
	ink := f.ink(p.area)
	var taken []box
	for _, r := range requests {
		places := r.places(f, p.area)
		at, ok := free(places, p.area, taken, ink)
		if !ok && !r.tight {
			at, ok = free(places, p.area, taken, nil)
		}
		if ok {
			taken = append(taken, at)
			c.text(at.x+2, at.y+at.h-3, "start", "note", r.text)
		}
	}
}

// request is a text and the points in data that it may stand at, best first. A
// tight one stands right above or below its point or not at all.
type request struct {
	text    string
	tight   bool
	anchors []Note
}

// requests lists all texts: those of horizontal rules may stand anywhere along
// them, those of vertical rules and bands at any height.
func (f *Figure) requests() []request {
	var list []request
	add := func(text string, tight bool, anchors []Note) {
		if text != "" {
			list = append(list, request{text, tight, anchors})
		}
	}
	for _, r := range f.Rules {
		if r.Vertical {
			add(r.Label, false, f.column(r.At))
			continue
		}
		var anchors []Note
		for k := range 12 {
			anchors = append(anchors, Note{X: f.X.Value(float64(k) / 12), Y: r.At})
		}
		add(r.Label, true, anchors)
	}
	for _, b := range f.Bands {
		add(b.Label, false, f.column(max(b.Lo, f.X.Lo)))
	}
	for _, n := range f.Notes {
		add(n.Text, false, []Note{n})
	}
	return list
}

// column lists points at one X from the top down.
func (f *Figure) column(x float64) []Note {
	var points []Note
	for k := range 13 {
		points = append(points, Note{X: x, Y: f.Y.Value(1 - float64(k)/12)})
	}
	return points
}

// places lists the boxes that a text may take: around each anchor to the right
// or left, above or below, then further away up and down.
func (r request) places(f *Figure, a area) []box {
	w := textWidth(r.text, tickSize) + 4
	const h = tickSize + 4
	heights := []float64{-h - 1, 1, -2*h - 2, h + 2, -3*h - 3, 2*h + 3, 3*h + 4, -4*h - 4}
	if r.tight {
		heights = heights[:2]
	}
	var list []box
	for _, anchor := range r.anchors {
		x, y := f.at(anchor.X, anchor.Y, a)
		for _, dy := range heights {
			for _, dx := range []float64{2, -w - 2, -w / 2} {
				list = append(list, box{a.x + x + dx, a.y + y + dy, w, h})
			}
		}
	}
	return list
}

// free returns the first box inside the area that meets neither a text nor ink.
func free(places []box, a area, taken []box, ink []point) (box, bool) {
	for _, b := range places {
		if b.inside(a) && !slices.ContainsFunc(taken, b.meets) && !slices.ContainsFunc(ink, b.holds) {
			return b, true
		}
	}
	return box{}, false
}

// ink samples where lines are drawn, every few px.
func (f *Figure) ink(a area) []point {
	var list []point
	for i := range f.Traces {
		t := &f.Traces[i]
		lines := t.steps(f, a)
		if t.Kind == Line {
			lines = f.envelope(t.X, t.Y, a)
		}
		for _, line := range lines {
			for k := 1; k < len(line); k++ {
				list = appendSegment(list, line[k-1], line[k], a)
			}
		}
	}
	return list
}

func appendSegment(list []point, from, to point, a area) []point {
	const spacing = 4.0
	n := int(math.Hypot(to.x-from.x, to.y-from.y)/spacing) + 1
	for k := range n + 1 {
		s := float64(k) / float64(n)
		list = append(list, point{a.x + from.x + s*(to.x-from.x), a.y + from.y + s*(to.y-from.y)})
	}
	return list
}
