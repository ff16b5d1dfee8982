package drawing

// Point is a place on the grid, where terminals, wire corners and dots stand.
type Point struct{ X, Y int }

func (p Point) plus(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

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
