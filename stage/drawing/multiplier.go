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
	s.signal(Point{})
	if s.forced {
		const bias = 23
		tap := Point{bias, 0}
		if s.driven(Point{}, tap) {
			s.shown("tap", tap, 0.7, 0, Start)
		}
		s.portBias(tap, reach)
		s.rails(outputs, outputs, rail)
		return bias
	}
	const tap, coupled = 7, 17
	if s.driven(Point{}, Point{tap, 0}) {
		s.shown("tap", Point{tap, 0}, 0.7, 0, Start)
	}
	for _, half := range sides {
		y := half.side * reach
		s.wire(Point{tap, 0}, Point{tap, y})
		s.level(Part{Kind: Capacitor, Key: "coupling.input"}, Point{tap, y}, Point{coupled, y})
	}
	s.multiplier(coupled+1, reach, rail)
	s.rails(coupled+6, outputs, rail)
	return coupled
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
