package drawing

func drawPushPull(s *sheet) {
	const first = 20
	depth := s.tapDepth(6)
	reach := depth + 2
	column := first + 10
	if n := len(s.tapParts()); n > 1 {
		column += tapColumns[n-1]
	}
	in := s.inputTransformer(true)
	tap := in.Pin("st")
	s.wire(tap, Point{first, 0})
	s.shown("tap", tap, 0.6, -0.8, Start)
	s.tapBias(Point{first, 0}, depth, 6)
	out := s.loadTransformer(Point{column + 18, 0}, true)
	s.pushPullHalf("upper", -1, column, reach, in.Pin("s1"), out.Pin("p1"))
	s.pushPullHalf("lower", 1, column, reach, in.Pin("s2"), out.Pin("p2"))
	earth := Point{column + 3, 0}
	s.wire(Point{column, 0}, earth)
	s.ground(earth)

	supply := Point{column + 12, -1}
	s.wire(out.Pin("pt"), Point{supply.X, 0}, supply)
	s.rail("supply", supply, 0, -2.5, Middle)
}

// pushPullHalf draws one device between its ends of the two transformers.
func (s *sheet) pushPullHalf(name string, side, column, reach int, secondary, primary Point) {
	q := s.put(Part{
		Kind: NPN, Device: name, At: Point{column - 1, side * reach}, Flip: side > 0,
		Label: Label{Place{float64(column) + 1.6, float64(side * reach)}, Start},
	})
	s.wire(secondary, Point{secondary.X, side * reach}, q.Pin("base"))
	s.shown(name+" base", q.Pin("base"), -0.5, 0.8*float64(side), End)
	s.wire(q.Pin("collector"), Point{primary.X, q.Pin("collector").Y}, primary)
	s.shown(name+" collector", q.Pin("collector"), -0.6, 0.5*float64(side), End)
	s.leg(name+" emitter", q.Pin("emitter"), Point{column, 0})
}
