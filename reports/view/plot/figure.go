package plot

import (
	"strings"

	"quietcross/reports/view/svg"
)

// Default size of a figure, px.
const (
	defaultWidth  = 440
	defaultHeight = 280
)

// Figure is one diagram.
type Figure struct {
	// Name makes the figure's ids unique inside a page: lower-case letters,
	// digits and hyphens only.
	Name string
	// Title and Desc say what the figure shows, to those who cannot see it.
	Title, Desc string
	// Width and Height are in px; zero means 440 and 280.
	Width, Height float64
	X, Y          Axis
	// Heat is drawn below everything else; nil for none.
	Heat   *Heat
	Bands  []Band
	Rules  []Rule
	Traces []Trace
	Notes  []Note
}

// area is the rectangle in which data are drawn, px.
type area struct{ x, y, w, h float64 }

// SVG returns the figure as an element for a page that carries [Style]. It
// panics on a name that cannot be an id, on an axis that spans nothing, and on
// traces of unequal lengths or falling x.
func (f *Figure) SVG() string {
	c := &canvas{}
	f.draw(c, false)
	return c.String()
}

// Document returns the figure as an SVG file that stands alone, with its title
// drawn on top. It panics as [Figure.SVG] does.
func (f *Figure) Document() string {
	c := &canvas{}
	c.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	f.draw(c, true)
	c.WriteString("\n")
	return c.String()
}

func (f *Figure) draw(c *canvas, alone bool) {
	f.check()
	width, height := f.size()
	plan := f.plan(alone)
	attributes := []string{
		"class", "plot", "role", "img", "aria-labelledby", f.Name + "-t " + f.Name + "-d",
		"viewBox", "0 0 " + num(width) + " " + num(height),
	}
	if alone {
		attributes = append(attributes, "xmlns", "http://www.w3.org/2000/svg", "width", num(width), "height", num(height))
	}
	c.Open("svg", attributes...)
	c.Element("title", f.Title, "id", f.Name+"-t")
	c.Element("desc", f.Desc, "id", f.Name+"-d")
	if alone {
		c.Element("style", documentStyle())
		c.Leaf("rect", "class", "paper", "width", num(width), "height", num(height))
		c.text(4, 16, "start", "heading", f.Title)
	}
	f.drawHeat(c, plan)
	f.drawBands(c, plan)
	f.drawGrid(c, plan)
	f.drawRules(c, plan)
	for i := range f.Traces {
		f.Traces[i].draw(c, f, plan.area)
	}
	f.drawNotes(c, plan)
	f.drawAxes(c, plan)
	f.drawLegend(c, plan)
	c.Close("svg")
}

func (f *Figure) size() (width, height float64) {
	width, height = f.Width, f.Height
	if width == 0 {
		width = defaultWidth
	}
	if height == 0 {
		height = defaultHeight
	}
	return width, height
}

func (f *Figure) check() {
	if f.Name == "" || strings.Trim(f.Name, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		panic("plot: figure name " + f.Name + " is not made of lower-case letters, digits and hyphens")
	}
	f.X.check()
	f.Y.check()
	for i := range f.Traces {
		f.Traces[i].check()
	}
}

// at maps a data point into the plot area, px from its upper left corner.
func (f *Figure) at(x, y float64, a area) (px, py float64) {
	return f.X.Position(x) * a.w, (1 - f.Y.Position(y)) * a.h
}

// canvas writes the elements of a figure.
type canvas struct{ svg.Canvas }

// text writes one line of text; anchor is "start", "middle" or "end".
func (c *canvas) text(x, y float64, anchor, class, content string) {
	c.Element("text", content, "x", num(x), "y", num(y), "text-anchor", anchor, "class", class)
}
