package drawing

func drawFeedbackPair(s *sheet) {
	const drivers, outputs = 10, 27
	reach := s.reach(10)
	rail := reach + 11
	s.pair(reach, rail, drivers, outputs)
	s.feedbackPair(-1, NPN, PNP, "upper", Point{0, -reach}, [2]int{drivers, outputs}, rail)
	s.feedbackPair(1, PNP, NPN, "lower", Point{0, reach}, [2]int{drivers, outputs}, rail)
}

// feedbackPair draws one half: the driver's collector feeds the base of an output
// device of the other polarity, whose collector meets the driver's emitter.
func (s *sheet) feedbackPair(side int, first, second Kind, name string, base Point, columns [2]int, rail int) {
	driver := s.transistor(first, name+" driver", Point{columns[0] - 1, base.Y})
	joint := Point{columns[0], base.Y + 4*side}
	q := s.transistor(second, name, Point{columns[1] - 1, joint.Y})
	s.wire(base, driver.Pin("base"))
	s.wire(driver.Pin("collector"), joint, q.Pin("base"))
	s.shown(name+" output base", joint, 1.2, 0.8*float64(-side), Start)
	top := Point{joint.X, side * rail}
	resistor := Part{Kind: Resistor, Key: "drivers.resistance"}
	if side < 0 {
		s.upright(resistor, top, joint)
	} else {
		s.upright(resistor, joint, top)
	}
	s.wire(q.Pin("emitter"), Point{columns[1], side * rail})

	emitter := Point{columns[1], base.Y - 4*side}
	s.wire(q.Pin("collector"), emitter)
	s.wire(driver.Pin("emitter"), Point{columns[0], emitter.Y}, emitter)
	s.leg(name+" emitter", emitter, Point{columns[1], 0})
}
