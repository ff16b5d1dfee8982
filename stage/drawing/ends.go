package drawing

// ground puts an earth at a point.
func (s *sheet) ground(at Point) { s.put(Part{Kind: Ground, At: at}) }

// rail puts a supply's terminal at a point, its values at an offset. The lower
// rail points downward.
func (s *sheet) rail(supply string, at Point, dx, dy float64, align Align) {
	s.node(supply, at)
	s.put(Part{Kind: Rail, At: at, Device: supply, Flip: supply == "lower rail", Label: label(at, dx, dy, align)})
}

// localRail puts another terminal of the supply, or of the upper rail, at a point.
func (s *sheet) localRail(at Point) {
	name := "supply"
	if s.dual() {
		name = "upper rail"
	}
	s.node(name, at)
	s.put(Part{Kind: Rail, At: at, Key: "supply.positive", Label: label(at, -1.1, -0.5, End)})
}

// terminal marks the input or the output.
func (s *sheet) terminal(name string, at Point, l Label) {
	s.put(Part{Kind: Terminal, Name: name, At: at, Label: l})
}

// signal puts the signal's source below a point, eight units down to earth.
func (s *sheet) signal(at Point) {
	s.terminal("input", at, label(at, 0.7, 1.3, Start))
	s.node("input", at)
	v := s.put(Part{Kind: Signal, At: at.plus(Point{0, 4})})
	s.wire(at, v.Pin("plus"))
	s.wire(v.Pin("minus"), at.plus(Point{0, 8}))
	s.ground(at.plus(Point{0, 8}))
}

// driven puts the source's resistance between the input and a point. It reports
// whether there is one: without it the point is the input itself.
func (s *sheet) driven(input, to Point) bool {
	if s.parts.Source.Ohms == 0 {
		s.wire(input, to)
		return false
	}
	s.level(Part{Kind: Resistor, Key: "source.resistance"}, input, to)
	return true
}

// load puts the load below a point, eight units down to earth: a loudspeaker, or a
// resistor with the voice coil's inductance where one is given.
func (s *sheet) load(at Point) {
	s.terminal("output", at, label(at, -0.6, -1.1, Start))
	s.shown("output", at, 0.9, 1.1, Start)
	bottom := at.plus(Point{0, 8})
	switch l := &s.parts.Load; {
	case l.Resonance > 0:
		s.upright(Part{Kind: Loudspeaker, Key: "load.resistance"}, at, bottom)
	case l.Henries > 0:
		coil := at.plus(Point{0, 5})
		bottom = at.plus(Point{0, 10})
		s.node("voice coil", coil)
		s.upright(Part{Kind: Inductor, Key: "load.inductance", Label: label(at, 1.1, 2.8, Start)}, at, coil)
		s.upright(Part{Kind: Resistor, Key: "load.resistance"}, coil, bottom)
	default:
		s.upright(Part{Kind: Resistor, Key: "load.resistance"}, at, bottom)
	}
	s.ground(bottom)
}

// transistor puts a transistor with its values to its right.
func (s *sheet) transistor(kind Kind, device string, at Point) Part {
	return s.put(Part{Kind: kind, At: at, Device: device, Label: label(at, 2.6, 0, Start)})
}

// leg puts the emitter resistor between an emitter and the point below or above
// it; without one the emitter is the point itself.
func (s *sheet) leg(name string, emitter, to Point) {
	top, bottom := emitter, to
	if top.Y > bottom.Y {
		top, bottom = bottom, top
	}
	if s.parts.Emitter.Ohms == 0 {
		s.wire(top, bottom)
		return
	}
	dy := 0.6
	if emitter == bottom {
		dy = -0.6
	}
	middle := Point{top.X, (top.Y + bottom.Y) / 2}
	s.upright(Part{Kind: Resistor, Key: "emitter.resistance", Label: label(middle, 1.1, -dy/2, Start)}, top, bottom)
	s.shown(name, emitter, 0.8, dy, Start)
}
