package plot

import "strconv"

// Look is how a trace differs from the others.
type Look struct {
	// Ink draws in the colour of the text instead of a palette colour.
	Ink bool
	// Pale draws in the colour of the grid, for what lies behind the others.
	Pale bool
	// Index chooses colour, dash and marker together, cyclic after 64.
	Index int
	// Wide doubles the line width.
	Wide bool
	// Solid leaves the dash out.
	Solid bool
	// Fill shades the area below steps.
	Fill bool
}

// palette holds the trace colours on white, and darkPalette those on the dark
// page, in order of hue. They come from a search of our own that made the minimum
// distance between any two of them, seen with each of three kinds of colour
// blindness, as large as it gets while neighbours keep 12 units of CIE lightness
// apart for greyscale print; the test states the figures reached.
var (
	palette     = [...]string{"#8a2b5b", "#e25c5c", "#372d26", "#4c6200", "#609b9c", "#0f6ea4", "#390eb9", "#a932e6"}
	darkPalette = [...]string{"#fe9fa2", "#c96813", "#fbd262", "#75c139", "#7ef7e2", "#7b92a8", "#b3c2fb", "#be7bf5"}
)

var dashes = [len(palette)]string{"", "7 2", "2 2", "9 2 2 2", "5 3", "1 2", "9 2 2 2 2 2", "3 1"}

// markers are drawn around the current point of a path.
var markers = [len(palette)]string{
	"m-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0",
	"m-2.6-2.6h5.2v5.2h-5.2z",
	"m0-3.4l3.2 5.6h-6.4z",
	"m0-3.6l3.6 3.6l-3.6 3.6l-3.6-3.6z",
	"m0 3.4l3.2-5.6h-6.4z",
	"m-3.2 0h6.4m-3.2-3.2v6.4",
	"m-2.6-2.6l5.2 5.2m-5.2 0l5.2-5.2",
	"m-3.4-1h6.8v2h-6.8z",
}

func (l Look) index(n int) int { return ((l.Index % n) + n) % n }

// second is the index of dash and marker: after each round of colours it moves
// on by one, so that 64 looks differ.
func (l Look) second() int {
	n := len(palette)
	return (l.index(n*n) + l.index(n*n)/n) % n
}

func (l Look) class() string {
	class := "k" + strconv.Itoa(l.index(len(palette)))
	switch {
	case l.Ink:
		class = "ink"
	case l.Pale:
		class = "pale"
	}
	if l.Wide {
		class += " wide"
	}
	return class
}

func (l Look) dash() []string {
	dash := dashes[l.second()]
	if l.Solid || l.Ink || l.Pale || dash == "" {
		return nil
	}
	return []string{"stroke-dasharray", dash}
}

func (l Look) marker() string { return markers[l.second()] }

// Swatch returns a small drawing of a look, line and marker, for a control that
// stands outside the figures.
func (l Look) Swatch() string {
	c := &canvas{}
	c.Open("svg", "class", "plot swatch "+l.class(), "viewBox", "0 0 34 10", "width", "34", "height", "10", "aria-hidden", "true")
	attributes := []string{"class", "line", "d", "M1 5h32"}
	c.Leaf("path", append(attributes, l.dash()...)...)
	c.Leaf("path", "class", "mark", "d", "M17 5"+l.marker())
	c.Close("svg")
	return c.String()
}
