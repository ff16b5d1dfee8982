package plot

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Kind is how a trace is drawn.
type Kind uint8

const (
	// Line joins the points.
	Line Kind = iota
	// Steps draws a level between each two neighbouring X, so that X has one
	// value more than Y: bands of a spectrum.
	Steps
	// Stems draws a line from the axis's lower end to each point and a marker
	// on it.
	Stems
	// Points draws markers alone.
	Points
)

// Trace is one series of values.
type Trace struct {
	// Label names the trace beside it; empty for none.
	Label string
	// Rung is written as data-rung, by which a page can hide the trace.
	Rung string
	Kind Kind
	Look Look
	// X must not fall; Y may hold NaN for gaps and -Inf for silence.
	X, Y []float64
	// Shift moves the trace to the right, px, so that stems that share an X
	// stand side by side.
	Shift float64
}

func (t *Trace) check() {
	want := len(t.Y)
	if t.Kind == Steps {
		want++
	}
	if len(t.X) != want {
		panic(fmt.Sprintf("plot: trace %q has %d x for %d y", t.Label, len(t.X), len(t.Y)))
	}
	if !slices.IsSorted(t.X) {
		panic(fmt.Sprintf("plot: x of trace %q falls or is NaN", t.Label))
	}
}

func (t *Trace) draw(c *canvas, f *Figure, a area) {
	c.Open("g", "class", "trace "+t.Look.class(), "data-rung", t.Rung)
	// A nested viewport clips to the plot area without an id.
	c.Open("svg", "x", num(a.x), "y", num(a.y), "width", num(a.w), "height", num(a.h))
	switch t.Kind {
	case Line:
		t.drawLine(c, f.envelope(t.X, t.Y, a))
	case Steps:
		t.drawSteps(c, f, a)
	case Stems, Points:
		t.drawPoints(c, f, a)
	}
	c.Close("svg")
	c.Close("g")
}

func (t *Trace) drawLine(c *canvas, lines [][]point) {
	if len(lines) == 0 {
		return
	}
	attributes := []string{"class", "line", "d", encode(lines)}
	c.Leaf("path", append(attributes, t.Look.dash()...)...)
}

func (t *Trace) drawSteps(c *canvas, f *Figure, a area) {
	lines := t.steps(f, a)
	if t.Look.Fill {
		t.drawFill(c, lines, a)
	}
	t.drawLine(c, lines)
}

// steps maps levels between edges to polylines; nil for another kind of trace.
func (t *Trace) steps(f *Figure, a area) [][]point {
	var lines [][]point
	var line []point
	if t.Kind != Steps {
		return nil
	}
	for i, y := range t.Y {
		if math.IsNaN(y) {
			if len(line) > 0 {
				lines = append(lines, line)
			}
			line = nil
			continue
		}
		x0, py := f.at(t.X[i], y, a)
		x1, _ := f.at(t.X[i+1], y, a)
		py = clamp(py, a.h)
		line = append(line, point{clamp(x0, a.w), py}, point{clamp(x1, a.w), py})
	}
	if len(line) > 0 {
		lines = append(lines, line)
	}
	return lines
}

// drawFill shades between a trace and the lower end of the area.
func (t *Trace) drawFill(c *canvas, lines [][]point, a area) {
	for _, line := range lines {
		closed := slices.Concat(line, []point{{line[len(line)-1].x, a.h + 2}, {line[0].x, a.h + 2}})
		c.Leaf("path", "class", "fill", "d", encode([][]point{closed})+"z")
	}
}

func (t *Trace) drawPoints(c *canvas, f *Figure, a area) {
	var stems [][]point
	var marks strings.Builder
	for i, y := range t.Y {
		if math.IsNaN(y) || f.Y.Position(y) < 0 {
			continue
		}
		px, py := f.at(t.X[i], y, a)
		px = clamp(px+t.Shift, a.w)
		py = clamp(py, a.h)
		stems = append(stems, []point{{px, a.h}, {px, py}})
		marks.WriteString("M" + num(px) + " " + num(py) + t.Look.marker())
	}
	if len(stems) == 0 {
		return
	}
	if t.Kind == Stems {
		c.Leaf("path", "class", "stem", "d", encode(stems))
	}
	c.Leaf("path", "class", "mark", "d", marks.String())
}

// last returns the y at which a trace leaves the area on the right, px from the
// area's top, within the area.
func (t *Trace) last(f *Figure, a area) (y float64, ok bool) {
	for i, v := range slices.Backward(t.Y) {
		if math.IsNaN(v) || t.X[i] > f.X.Hi {
			continue
		}
		_, py := f.at(t.X[i], v, a)
		return min(max(py, 0), a.h), true
	}
	return 0, false
}
