package drawing

import (
	"cmp"
	"fmt"
	"slices"

	"quietcross/stage/quantity"
)

// A Sheet is a drawing being made: parts are put at their places, wired and named, and
// at the end designated from left to right, with dots where three or more ways meet.
type Sheet struct {
	Drawing
	// Value looks up the value of a part by its key in the stage file.
	Value func(key string) (float64, quantity.Unit)
}

// Finished returns the drawing, its parts designated and its junctions found.
func (s *Sheet) Finished() Drawing {
	s.designate()
	s.Dots = s.junctions()
	return s.Drawing
}

// letters begin the designations.
var letters = map[Kind]string{
	Resistor: "R", Capacitor: "C", Inductor: "L", Diode: "D", NPN: "Q", PNP: "Q",
	NChannel: "Q", PChannel: "Q", Transformer: "T", Loudspeaker: "LS", Source: "V", Amplifier: "A",
}

// Put places a part and looks its value up.
func (s *Sheet) Put(p Part) Part {
	if p.Key != "" {
		p.Value, p.Unit = s.Value(p.Key)
	}
	s.Parts = append(s.Parts, p)
	return p
}

// designate numbers the parts from left to right and in each column from the top
// down. A chain of diodes takes a number for each.
func (s *Sheet) designate() {
	slices.SortStableFunc(s.Parts, func(a, b Part) int { return cmp.Or(a.At.X-b.At.X, a.At.Y-b.At.Y) })
	given := map[string]int{}
	for i := range s.Parts {
		p := &s.Parts[i]
		letter, ok := letters[p.Kind]
		if !ok {
			continue
		}
		first := given[letter] + 1
		given[letter] += max(p.Count, 1)
		p.Name = fmt.Sprintf("%s%d", letter, first)
		if p.Count > 1 {
			p.Name += fmt.Sprintf("–%s%d", letter, given[letter])
		}
	}
}

// Wire joins points by a polyline; points that repeat are left out.
func (s *Sheet) Wire(points ...Point) {
	var line []Point
	for i, p := range points {
		if i == 0 || p != points[i-1] {
			line = append(line, p)
		}
	}
	if len(line) > 1 {
		s.Wires = append(s.Wires, line)
	}
}

// Node names a node of the network at one of its points; its voltage is not
// written.
func (s *Sheet) Node(name string, at Point) {
	s.Nodes = append(s.Nodes, Node{Name: name, At: at})
}

// Shown names a node and writes its voltage at an offset from the point.
func (s *Sheet) Shown(name string, at Point, dx, dy float64, align Align) {
	s.Nodes = append(s.Nodes, Node{
		Name: name, At: at, Shown: true,
		Label: Label{Place{float64(at.X) + dx, float64(at.Y) + dy}, align},
	})
}

// LabelAt is a place for text at an offset from a point.
func LabelAt(at Point, dx, dy float64, align Align) Label {
	return Label{Place{float64(at.X) + dx, float64(at.Y) + dy}, align}
}

// Upright places a two-terminal part between two points of a column, in their
// middle, wires it to both, and writes its label to its right. The distance of
// the points must be even.
func (s *Sheet) Upright(p Part, top, bottom Point) {
	p.At = Point{top.X, (top.Y + bottom.Y) / 2}
	if p.Label == (Label{}) {
		p.Label = LabelAt(p.At, beside(p.Kind), 0, Start)
	}
	pins := s.Put(p).Pins()
	from, to := pins[0].At, pins[1].At
	if from.Y > to.Y {
		from, to = to, from
	}
	s.Wire(top, from)
	s.Wire(to, bottom)
}

// beside is how far from the middle of an upright part its label stands.
func beside(k Kind) float64 {
	switch k {
	case Capacitor, Source:
		return 1.6
	case Loudspeaker:
		return 2
	}
	return 1.1
}

// Level places a two-terminal part between two points of a line, its first
// terminal to the left unless it is flipped, wires it to both, and writes its label above.
func (s *Sheet) Level(p Part, left, right Point) {
	p.At = Point{(left.X + right.X) / 2, left.Y}
	p.Turn = 3
	above := 1.3
	if p.Kind != Resistor {
		above = 2
	}
	p.Label = LabelAt(p.At, 0, -above, Middle)
	pins := s.Put(p).Pins()
	from, to := pins[0].At, pins[1].At
	if from.X > to.X {
		from, to = to, from
	}
	s.Wire(left, from)
	s.Wire(to, right)
}

// LeftOf is the place of a label to the left of a part between two points of a
// column.
func LeftOf(k Kind, top, bottom Point) Label {
	return LabelAt(Point{top.X, (top.Y + bottom.Y) / 2}, -beside(k), 0, End)
}

// junctions finds where three or more ways meet: ends of wires and terminals of
// parts one each, a wire that passes two.
func (d *Drawing) junctions() []Point {
	ways := map[Point]int{}
	for _, p := range d.Parts {
		if p.Kind != Terminal {
			for _, pin := range p.Pins() {
				ways[pin.At]++
			}
		}
	}
	for _, w := range d.Wires {
		ways[w[0]]++
		ways[w[len(w)-1]]++
	}
	var dots []Point
	for at, n := range ways {
		for _, w := range d.Wires {
			if passes(w, at) {
				n += 2
			}
		}
		if n >= 3 {
			dots = append(dots, at)
		}
	}
	slices.SortFunc(dots, func(a, b Point) int { return cmp.Or(a.X-b.X, a.Y-b.Y) })
	return dots
}

// passes reports whether a wire goes through a point other than its ends.
func passes(wire []Point, at Point) bool {
	if at == wire[0] || at == wire[len(wire)-1] {
		return false
	}
	for i := 1; i < len(wire); i++ {
		if between(wire[i-1], wire[i], at) {
			return true
		}
	}
	return false
}

// between reports whether a point lies on a horizontal or vertical stretch, ends
// included.
func between(a, b, at Point) bool {
	return at.X >= min(a.X, b.X) && at.X <= max(a.X, b.X) && at.Y >= min(a.Y, b.Y) && at.Y <= max(a.Y, b.Y)
}
