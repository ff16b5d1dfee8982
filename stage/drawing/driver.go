package drawing

// Where the driver's parts stand from its collector's junction.
const (
	driverBase    = 6   // the base's line, below
	driverDivider = -11 // the divider's column
	driverSource  = -20 // the end of the source's resistance
	driverInput   = -29
	driverTop     = -8 // the ends of divider and collector resistor
	bypassColumn  = 4
)

// hasDriver reports whether a driver stands before the stage.
func (s *sheet) hasDriver() bool { return s.parts.Driver.Fitted }

// fed reports whether the feeds of a pair are there: those that a forced bias leaves
// out stay behind a driver.
func (s *sheet) fed() bool { return !s.forced || s.hasDriver() }

// entrance draws what drives the stage from the left, up to a point from which the
// stage goes on: the source, or the driver with its collector there and the resistor
// that feeds it. It reports whether the point is a node of its own and no input.
func (s *sheet) entrance(input, to Point, name string) {
	if s.hasDriver() {
		s.driver(input)
		s.upright(Part{Kind: Resistor, Key: "driver.collector"}, input.plus(Point{0, driverTop}), input)
		s.localRail(input.plus(Point{0, driverTop}))
		s.wire(input, to)
		return
	}
	s.signal(input)
	if s.driven(input, to) {
		s.shownUnless(name == "source", name, to)
	}
}

// shownUnless names a node, with its voltage to the right of the point unless it is
// quiet.
func (s *sheet) shownUnless(quiet bool, name string, at Point) {
	if quiet {
		s.node(name, at)
		return
	}
	s.shown(name, at, 0.7, 0, Start)
}

// driver draws the source and the driver behind it, with the collector's junction at
// a point: the transistor below it, the base divider to the left.
func (s *sheet) driver(collector Point) {
	at := func(x, y int) Point { return collector.plus(Point{x, y}) }
	q := s.transistor(NPN, "driver", at(-1, driverBase))
	s.wire(collector, q.Pin("collector"))
	s.shown("driver collector", collector, 0.7, 1.2, Start)

	input, source, base := at(driverInput, driverBase), at(driverSource, driverBase), at(driverDivider, driverBase)
	s.signal(input)
	if s.driven(input, source) {
		s.node("source", source)
	}
	s.level(Part{Kind: Capacitor, Key: "driver.input_capacitor"}, source, base)
	s.wire(base, q.Pin("base"))
	s.shown("driver base", base, 0.7, 1.1, Start)
	top, foot := at(driverDivider, driverTop), at(driverDivider, driverBase+8)
	s.upright(Part{Kind: Resistor, Key: "driver.divider_upper", Label: leftOf(Resistor, top, base)}, top, base)
	s.upright(Part{Kind: Resistor, Key: "driver.divider_lower", Label: leftOf(Resistor, base, foot)}, base, foot)
	s.localRail(top)
	s.lowerEnd(foot)
	s.driverEmitter(q.Pin("emitter"))
}

// driverEmitter draws what stands below the driver's emitter.
func (s *sheet) driverEmitter(emitter Point) {
	d := &s.parts.Driver
	s.shown("driver emitter", emitter, -0.7, 0.4, End)
	foot := emitter
	if d.Degeneration > 0 {
		foot = emitter.plus(Point{0, 6})
		s.upright(Part{Kind: Resistor, Key: "driver.degeneration"}, emitter, foot)
		s.shown("driver foot", foot, -0.7, 0.4, End)
	}
	end := foot.plus(Point{0, 6})
	s.upright(Part{Kind: Resistor, Key: "driver.emitter", Label: leftOf(Resistor, foot, end)}, foot, end)
	if d.Bypass > 0 {
		top, bottom := foot.plus(Point{bypassColumn, 0}), end.plus(Point{bypassColumn, 0})
		s.wire(foot, top)
		s.upright(Part{Kind: Capacitor, Key: "driver.bypass"}, top, bottom)
		s.wire(bottom, end)
	}
	s.lowerEnd(end)
}

// dual reports whether the circuit stands on two rails.
func (s *sheet) dual() bool {
	for _, g := range s.groups {
		for _, f := range g.Fields {
			if g.Name == "supply" && f.Key == "negative" {
				return true
			}
		}
	}
	return false
}

// lowerEnd ends a way at the lower supply: another terminal of the lower rail, or
// earth.
func (s *sheet) lowerEnd(at Point) {
	if !s.dual() {
		s.ground(at)
		return
	}
	s.node("lower rail", at)
	s.put(Part{
		Kind: Rail, At: at, Flip: true, Value: -s.parts.Supply.Negative, Unit: "V",
		Label: label(at, -1.1, 0.5, End),
	})
}

// choke draws a forced bias that reaches a base through a coil.
func (s *sheet) choke(base Point) {
	feed := base.plus(Point{0, 8})
	s.node("choke", feed)
	s.upright(Part{Kind: Inductor, Value: s.parts.ChokeHenries(), Unit: "H"}, base, feed)
	s.upright(Part{Kind: Source, Device: "bias", Share: 1}, feed, feed.plus(Point{0, 6}))
	s.ground(feed.plus(Point{0, 6}))
}
