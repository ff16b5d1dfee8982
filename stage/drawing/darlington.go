package drawing

func drawDarlington(s *sheet) {
	const drivers, outputs = 11, 27
	reach := s.reach(15)
	rail := reach + 7
	s.pair(reach, rail, drivers, outputs)
	for _, half := range sides {
		s.doubleFollower(half.side, half.bipolar, half.name, Point{0, half.side * reach}, [2]int{drivers, outputs}, rail)
	}
}

// doubleFollower draws one half: the driver's emitter feeds the output device's
// base four units nearer to the middle.
func (s *sheet) doubleFollower(side int, kind Kind, name string, base Point, columns [2]int, rail int) {
	driver := s.transistor(kind, name+" driver", Point{columns[0] - 1, base.Y})
	joint := Point{columns[0], base.Y - 4*side}
	q := s.transistor(kind, name, Point{columns[1] - 1, joint.Y})
	s.wire(base, driver.Pin("base"))
	s.wire(driver.Pin("emitter"), joint, q.Pin("base"))
	for _, t := range []Part{driver, q} {
		s.wire(t.Pin("collector"), Point{t.Pin("collector").X, side * rail})
	}
	s.shown(name+" output base", joint, 1, 0.8*float64(-side), Start)

	emitter := Point{columns[1], joint.Y - 5*side}
	s.wire(q.Pin("emitter"), emitter)
	corner := Point{joint.X, emitter.Y}
	resistor := Part{Kind: Resistor, Key: "drivers.resistance"}
	if side < 0 {
		s.upright(resistor, joint, corner)
	} else {
		s.upright(resistor, corner, joint)
	}
	s.wire(corner, emitter)
	s.leg(name+" emitter", emitter, Point{columns[1], 0})
}
