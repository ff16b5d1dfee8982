package drawing

func drawSingleSupply(s *sheet) {
	const source, bias, outputs, load = 8, 17, 27, 45
	reach := s.reach(9)
	rail := reach + 7
	tap := Point{bias, 0}
	s.entrance(Point{}, Point{source, 0}, "source")
	if s.forced && !s.hasDriver() {
		half := s.parts.Supply.Positive / 2
		s.level(Part{Kind: Source, Device: "half supply", Flip: true, Value: half, Unit: "V"}, Point{source, 0}, tap)
	} else {
		s.level(Part{Kind: Capacitor, Key: "coupling.input"}, Point{source, 0}, tap)
	}
	s.shown("tap", tap, 0.7, 0, Start)
	s.portBias(tap, reach)
	s.feeds(bias, reach, rail)
	s.followers(bias, outputs, reach, rail)
	s.wire(Point{s.railsFrom(bias, outputs), -rail}, Point{outputs, -rail})
	s.rail("supply", Point{outputs, -rail}, 1.2, -0.5, Start)
	s.wire(Point{s.railsFrom(bias, outputs), rail}, Point{outputs, rail})
	s.ground(Point{outputs, rail})
	s.shown("emitters", Point{outputs, 0}, 0.8, 1, Start)
	s.level(Part{Kind: Capacitor, Key: "coupling.output"}, Point{outputs + 8, 0}, Point{load, 0})
	s.wire(Point{outputs, 0}, Point{outputs + 8, 0})
	s.load(Point{load, 0})
}
