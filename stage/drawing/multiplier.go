package drawing

func drawMultiplier(s *sheet) {
	const outputs, reach, rail = 36, 9, 16
	from := s.multiplierInput(outputs, reach, rail)
	s.followers(from, outputs, reach, rail)
	s.multiplierOutput(outputs)
}

// multiplierInput draws what stands before the output devices of a pair biased by
// a multiplier, and its rails. It returns the column from which the bases are fed.
func (s *sheet) multiplierInput(outputs, reach, rail int) int {
	const tap, coupled = 7, 17
	input := Point{}
	if s.hasDriver() {
		input = Point{-6, 0}
	}
	if s.forced {
		return s.forcedInput(input, outputs, reach, rail)
	}
	s.entrance(input, Point{tap, 0}, "tap")
	for _, half := range sides {
		y := half.side * reach
		s.wire(Point{tap, 0}, Point{tap, y})
		s.level(Part{Kind: Capacitor, Key: "coupling.input"}, Point{tap, y}, Point{coupled, y})
	}
	s.multiplier(coupled+1, reach, rail)
	s.rails(coupled+6, outputs, rail)
	return coupled
}

// forcedInput draws the same with an ideal source about the tap, to which a driver
// reaches through both capacitors in parallel.
func (s *sheet) forcedInput(input Point, outputs, reach, rail int) int {
	const bias = 23
	tap := Point{bias, 0}
	if s.hasDriver() {
		coupled := Point{11, 0}
		s.entrance(input, coupled, "")
		s.level(Part{Kind: Capacitor, Value: 2 * s.parts.Coupling.Input, Unit: "F"}, coupled, tap)
		s.shown("tap", tap, 0.7, 0, Start)
	} else {
		s.entrance(input, tap, "tap")
	}
	s.portBias(tap, reach)
	s.feeds(bias, reach, rail)
	s.rails(s.railsFrom(bias, outputs), outputs, rail)
	return bias
}

// multiplier draws the VBE multiplier: its divider in one column and its transistor
// five units to the right, in the column of the feeds.
func (s *sheet) multiplier(divider, reach, rail int) {
	middle, column := Point{divider, 0}, divider+5
	top, bottom := Point{divider, -reach}, Point{divider, reach}
	upper := label(Point{divider, -reach / 2}, -0.9, 0, End)
	lower := label(Point{divider, reach / 2}, -0.9, 0, End)
	s.upright(Part{Kind: Resistor, Key: "multiplier.top", Label: upper}, top, middle)
	s.upright(Part{Kind: Resistor, Key: "multiplier.bottom", Label: lower}, middle, bottom)
	s.node("multiplier base", middle)
	q := s.transistor(NPN, "multiplier", Point{column - 1, 0})
	s.wire(middle, q.Pin("base"))
	s.wire(q.Pin("collector"), Point{column, -reach})
	s.wire(q.Pin("emitter"), Point{column, reach})
	s.feeds(column, reach, rail)
	s.shown("upper base", Point{column, -reach}, 1.3, -0.8, Start)
	s.shown("lower base", Point{column, reach}, 1.3, 0.8, Start)
}

// multiplierOutput draws the line of the output and the load.
func (s *sheet) multiplierOutput(outputs int) {
	load := Point{outputs + 12, 0}
	s.wire(Point{outputs, 0}, load)
	s.load(load)
}
