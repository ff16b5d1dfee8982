package circuits

// What every circuit's drawing has: supplies, earth, what drives it from the left, a
// load on the right, transistors and their emitter resistors. A sheet knows the parts
// as they are, and whether an ideal source stands in place of the bias parts.

import (
	"fmt"

	"quietcross/stage/drawing"
	"quietcross/stage/quantity"
)

// sheet is a drawing being made of a stage.
type sheet struct {
	drawing.Sheet
	parts  *Parts
	forced bool
	groups []Group
}

// pt is a point of the grid.
func pt(x, y int) drawing.Point { return drawing.Point{X: x, Y: y} }

// Draw returns the drawing of a stage of the circuit of that name. An unknown one is an
// error that lists the circuits there are.
func Draw(circuit string, p Parts, forced bool) (drawing.Drawing, error) {
	k, err := Lookup(circuit)
	if err != nil {
		return drawing.Drawing{}, err
	}
	return k.Draw(p, forced), nil
}

// Draw returns the drawing of a stage of this kind. Parts that the values leave out are
// not drawn, and each diode is. With forced set an ideal source stands in place of the
// bias parts.
func (k *Kind) Draw(p Parts, forced bool) drawing.Drawing {
	s := &sheet{parts: &p, forced: forced, groups: k.Groups(&p)}
	s.Value = s.value
	k.draw(s)
	return s.Finished()
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
	panic(fmt.Sprintf("circuits: no value has the key %q", key))
}

// ground puts an earth at a point.
func (s *sheet) ground(at drawing.Point) { s.Put(drawing.Part{Kind: drawing.Ground, At: at}) }

// rail puts a supply's terminal at a point, its values at an offset. The lower
// rail points downward.
func (s *sheet) rail(supply string, at drawing.Point, dx, dy float64, align drawing.Align) {
	s.Node(supply, at)
	s.Put(drawing.Part{Kind: drawing.Rail, At: at, Device: supply, Flip: supply == "lower rail", Label: drawing.LabelAt(at, dx, dy, align)})
}

// localRail puts another terminal of the supply, or of the upper rail, at a point.
func (s *sheet) localRail(at drawing.Point) {
	name := "supply"
	if s.dual() {
		name = "upper rail"
	}
	s.Node(name, at)
	s.Put(drawing.Part{Kind: drawing.Rail, At: at, Key: "supply.positive", Label: drawing.LabelAt(at, -1.1, -0.5, drawing.End)})
}

// terminal marks the input or the output.
func (s *sheet) terminal(name string, at drawing.Point, l drawing.Label) {
	s.Put(drawing.Part{Kind: drawing.Terminal, Name: name, At: at, Label: l})
}

// signal puts the signal's source below a point, eight units down to earth.
func (s *sheet) signal(at drawing.Point) {
	s.terminal("input", at, drawing.LabelAt(at, 0.7, 1.3, drawing.Start))
	s.Node("input", at)
	v := s.Put(drawing.Part{Kind: drawing.Signal, At: at.Plus(pt(0, 4))})
	s.Wire(at, v.Pin("plus"))
	s.Wire(v.Pin("minus"), at.Plus(pt(0, 8)))
	s.ground(at.Plus(pt(0, 8)))
}

// driven puts the source's resistance between the input and a point. It reports
// whether there is one: without it the point is the input itself.
func (s *sheet) driven(input, to drawing.Point) bool {
	if s.parts.Source.Ohms == 0 {
		s.Wire(input, to)
		return false
	}
	s.Level(drawing.Part{Kind: drawing.Resistor, Key: "source.resistance"}, input, to)
	return true
}

// load puts the load below a point, eight units down to earth: a loudspeaker, or a
// resistor with the voice coil's inductance where one is given.
func (s *sheet) load(at drawing.Point) {
	s.terminal("output", at, drawing.LabelAt(at, -0.6, -1.1, drawing.Start))
	s.Shown("output", at, 0.9, 1.1, drawing.Start)
	bottom := at.Plus(pt(0, 8))
	switch l := &s.parts.Load; {
	case l.Resonance > 0:
		s.Upright(drawing.Part{Kind: drawing.Loudspeaker, Key: "load.resistance"}, at, bottom)
	case l.Henries > 0:
		coil := at.Plus(pt(0, 5))
		bottom = at.Plus(pt(0, 10))
		s.Node("voice coil", coil)
		s.Upright(drawing.Part{Kind: drawing.Inductor, Key: "load.inductance", Label: drawing.LabelAt(at, 1.1, 2.8, drawing.Start)}, at, coil)
		s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "load.resistance"}, coil, bottom)
	default:
		s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "load.resistance"}, at, bottom)
	}
	s.ground(bottom)
}

// transistor puts a transistor with its values to its right.
func (s *sheet) transistor(kind drawing.Kind, device string, at drawing.Point) drawing.Part {
	return s.Put(drawing.Part{Kind: kind, At: at, Device: device, Label: drawing.LabelAt(at, 2.6, 0, drawing.Start)})
}

// leg puts the emitter resistor between an emitter and the point below or above
// it; without one the emitter is the point itself.
func (s *sheet) leg(name string, emitter, to drawing.Point) {
	top, bottom := emitter, to
	if top.Y > bottom.Y {
		top, bottom = bottom, top
	}
	if s.parts.Emitter.Ohms == 0 {
		s.Wire(top, bottom)
		return
	}
	dy := 0.6
	if emitter == bottom {
		dy = -0.6
	}
	middle := pt(top.X, (top.Y+bottom.Y)/2)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "emitter.resistance", Label: drawing.LabelAt(middle, 1.1, -dy/2, drawing.Start)}, top, bottom)
	s.Shown(name, emitter, 0.8, dy, drawing.Start)
}
