package drawing

// driverPrimary puts the input transformer's primary into a driver's collector, its
// start at the supply, with the damping resistor across it.
func (s *sheet) driverPrimary(t Part) {
	const damping, collector = 1, -2
	top, bottom := Point{damping, t.Pin("p1").Y}, Point{damping, t.Pin("p2").Y}
	supply := top.plus(Point{0, -3})
	s.wire(supply, top, t.Pin("p1"))
	s.localRail(supply)
	s.upright(Part{Kind: Resistor, Key: "driver.damping", Label: leftOf(Resistor, top, bottom)}, top, bottom)
	s.wire(Point{collector, bottom.Y}, t.Pin("p2"))
	s.driver(Point{collector, bottom.Y})
}

// inputTransformer draws the source and the transformer behind it, whose middle is
// nine units to the right of the source.
func (s *sheet) inputTransformer(tapped bool) Part {
	l := Label{Place{7.9, -5.2}, Start}
	if tapped {
		l = Label{Place{10.4, -6.8}, End}
	}
	t := s.put(Part{
		Kind: Transformer, Key: "input_transformer.ratio", At: Point{9, 0}, Taps: [2]bool{false, tapped}, Label: l,
	})
	if s.hasDriver() {
		s.driverPrimary(t)
		return t
	}
	in := Point{0, -4}
	s.signal(in)
	if s.driven(in, t.Pin("p1")) {
		s.node("source", t.Pin("p1"))
	}
	s.ground(t.Pin("p2"))
	return t
}

// loadTransformer draws the output transformer about a point, and the load behind
// it. Without a tap it winds from the supply on top to the lone collector below.
func (s *sheet) loadTransformer(at Point, tapped bool) Part {
	p := Part{Kind: Transformer, Key: "output_transformer.ratio", At: at, Taps: [2]bool{tapped, false}}
	p.Label = label(at, -1, -5.2, Start)
	if tapped {
		p.Dots[0] = Bottom
	}
	t := s.put(p)
	out := t.Pin("s1").plus(Point{5, 0})
	s.wire(t.Pin("s1"), out)
	s.load(out)
	s.ground(t.Pin("s2"))
	return t
}

// common draws a lone common-emitter device with its output transformer and
// returns it; at is its middle.
func (s *sheet) common(at Point) Part {
	q := s.transistor(NPN, "transistor", at)
	t := s.loadTransformer(at.plus(Point{7, -9}), false)
	corner := Point{q.Pin("collector").X, t.Pin("p2").Y}
	s.wire(q.Pin("collector"), corner, t.Pin("p2"))
	s.shown("collector", corner, -0.6, 0.3, End)
	foot := q.Pin("emitter").plus(Point{0, 6})
	s.leg("emitter", q.Pin("emitter"), foot)
	s.ground(foot)
	top := t.Pin("p1").plus(Point{0, -2})
	s.wire(top, t.Pin("p1"))
	s.rail("supply", top, -1.1, -0.3, End)
	return q
}
