package drawing

func drawSingleCapacitor(s *sheet) {
	base := Point{16, 0}
	q := s.common(Point{26, 0})
	s.signal(Point{})
	source := Point{7, 0}
	if s.driven(Point{}, source) {
		s.node("source", source)
	}
	if s.forced {
		s.level(Part{Kind: Source, Device: "bias", Share: 1, Flip: true}, source, base)
	} else {
		s.level(Part{Kind: Capacitor, Key: "coupling.input"}, source, base)
		top := Point{base.X, -9}
		s.upright(Part{Kind: Resistor, Key: "bias.upper", Label: leftOf(Resistor, top, base)}, top, base)
		s.localRail(top)
	}
	s.wire(base, q.Pin("base"))
	s.shown("base", base, 0.7, 1.3, Start)
}
