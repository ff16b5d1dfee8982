package drawing

import (
	"cmp"
	"fmt"
	"slices"

	"quietcross/stage/circuits"
	"quietcross/stage/quantity"
)

// sheet is a drawing being made.
type sheet struct {
	Drawing
	parts  *circuits.Parts
	forced bool
	groups []circuits.Group
}

// letters begin the designations.
var letters = map[Kind]string{
	Resistor: "R", Capacitor: "C", Inductor: "L", Diode: "D", NPN: "Q", PNP: "Q",
	NChannel: "Q", PChannel: "Q", Transformer: "T", Loudspeaker: "LS", Source: "V", Amplifier: "A",
}

// put places a part and looks its value up.
func (s *sheet) put(p Part) Part {
	if p.Key != "" {
		p.Value, p.Unit = s.value(p.Key)
	}
	s.Parts = append(s.Parts, p)
	return p
}

// designate numbers the parts from left to right and in each column from the top
// down. A chain of diodes takes a number for each.
func (s *sheet) designate() {
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

// value looks a part value up by its key in the stage file.
func (s *sheet) value(key string) (float64, quantity.Unit) {
	for _, group := range s.groups {
		for _, field := range group.Fields {
			if v, ok := field.Value.(*float64); ok && group.Name+"."+field.Key == key {
				return *v, field.Range.Unit
			}
		}
	}
	panic(fmt.Sprintf("drawing: no value has the key %q", key))
}

// wire joins points by a polyline; points that repeat are left out.
func (s *sheet) wire(points ...Point) {
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

// node names a node of the network at one of its points; its voltage is not
// written.
func (s *sheet) node(name string, at Point) {
	s.Nodes = append(s.Nodes, Node{Name: name, At: at})
}

// shown names a node and writes its voltage at an offset from the point.
func (s *sheet) shown(name string, at Point, dx, dy float64, align Align) {
	s.Nodes = append(s.Nodes, Node{
		Name: name, At: at, Shown: true,
		Label: Label{Place{float64(at.X) + dx, float64(at.Y) + dy}, align},
	})
}

// label is a place for text at an offset from a point.
func label(at Point, dx, dy float64, align Align) Label {
	return Label{Place{float64(at.X) + dx, float64(at.Y) + dy}, align}
}

// upright places a two-terminal part between two points of a column, in their
// middle, wires it to both, and writes its label to its right. The distance of
// the points must be even.
func (s *sheet) upright(p Part, top, bottom Point) {
	p.At = Point{top.X, (top.Y + bottom.Y) / 2}
	if p.Label == (Label{}) {
		p.Label = label(p.At, beside(p.Kind), 0, Start)
	}
	pins := s.put(p).Pins()
	from, to := pins[0].At, pins[1].At
	if from.Y > to.Y {
		from, to = to, from
	}
	s.wire(top, from)
	s.wire(to, bottom)
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

// level places a two-terminal part between two points of a line, its first
// terminal to the left unless it is flipped, wires it to both, and writes its label above.
func (s *sheet) level(p Part, left, right Point) {
	p.At = Point{(left.X + right.X) / 2, left.Y}
	p.Turn = 3
	above := 1.3
	if p.Kind != Resistor {
		above = 2
	}
	p.Label = label(p.At, 0, -above, Middle)
	pins := s.put(p).Pins()
	from, to := pins[0].At, pins[1].At
	if from.X > to.X {
		from, to = to, from
	}
	s.wire(left, from)
	s.wire(to, right)
}
