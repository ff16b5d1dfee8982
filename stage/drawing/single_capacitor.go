package drawing

func drawSingleCapacitor(s *sheet) {
	base := Point{16, 0}
	q := s.common(Point{26, 0})
	source := Point{7, 0}
	s.entrance(Point{}, source, "source")
	switch {
	case s.forced && s.hasDriver():
		s.level(Part{Kind: Capacitor, Key: "coupling.input"}, source, base)
		s.choke(base)
	case s.forced:
		s.level(Part{Kind: Source, Device: "bias", Share: 1, Flip: true}, source, base)
	default:
		s.level(Part{Kind: Capacitor, Key: "coupling.input"}, source, base)
		top := Point{base.X, -9}
		s.upright(Part{Kind: Resistor, Key: "bias.upper", Label: leftOf(Resistor, top, base)}, top, base)
		s.localRail(top)
	}
	s.wire(base, q.Pin("base"))
	s.shown("base", base, 0.7, 1.3, Start)
}
