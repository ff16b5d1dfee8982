// Package drawing is what circuit drawings are made of, as plain data on a grid:
// placed symbols, wires, junction dots, and the places where solved values are
// written. A Sheet is a drawing being made; each circuit makes its own. Nothing here
// makes a picture; a report does.
//
// Symbols follow the shapes of IEC 60617 (from memory; the standard's text was
// not at hand): rectangular resistors, transistors with their emitter arrow,
// earth, transformers as rows of half circles along a core. The signal runs from
// left to right, the positive supply is on top, and currents at rest flow
// downward where the circuit allows.
//
// One grid unit is the smallest distance between two parallel wires. X grows to
// the right and Y downward.
package drawing

// Drawing is the drawing of one circuit with its parts as they are.
type Drawing struct {
	Parts []Part
	// Wires are polylines of horizontal and vertical stretches, at least two points
	// each. Wires meet where one's end lies on another; where they merely cross they
	// do not meet.
	Wires [][]Point
	// Dots are the junctions: places where three or more ways meet.
	Dots []Point
	// Nodes are the nodes of the circuit's network, every one but ground.
	Nodes []Node
}

// Node is a node of the circuit's network and where to write its voltage.
type Node struct {
	Name string // as in the network, such as "upper base"
	At   Point  // a point of its wires
	// Shown tells whether the voltage has a place in the drawing, Label.
	Shown bool
	Label Label
}

// Point is a place on the grid, where terminals, wire corners and dots stand.
type Point struct{ X, Y int }

// Plus returns the point moved by another.
func (p Point) Plus(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Place is a place between grid points, in grid units.
type Place struct{ X, Y float64 }

// Box is a rectangle in grid units, from Min to Max.
type Box struct{ Min, Max Place }

// Meets reports whether two boxes have an area in common.
func (b Box) Meets(o Box) bool {
	return b.Min.X < o.Max.X && o.Min.X < b.Max.X && b.Min.Y < o.Max.Y && o.Min.Y < b.Max.Y
}

// Align says which end of a text stands at its place.
type Align uint8

// The alignments of a text.
const (
	Start  Align = iota // the text runs to the right of its place
	Middle              // the place is the middle of the text
	End                 // the text runs up to its place
)

// Label is a place for text; Y is the middle of its height.
type Label struct {
	At    Place
	Align Align
}
