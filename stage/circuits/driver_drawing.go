package circuits

import "quietcross/stage/drawing"

// The drawing of a driver: the transistor below its collector's junction, the base
// divider to its left, and the source in front of that.

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
func (s *sheet) entrance(input, to drawing.Point, name string) {
	if s.hasDriver() {
		s.driver(input)
		s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "driver.collector"}, input.Plus(pt(0, driverTop)), input)
		s.localRail(input.Plus(pt(0, driverTop)))
		s.Wire(input, to)
		return
	}
	s.signal(input)
	if s.driven(input, to) {
		s.shownUnless(name == "source", name, to)
	}
}

// shownUnless names a node, with its voltage to the right of the point unless it is
// quiet.
func (s *sheet) shownUnless(quiet bool, name string, at drawing.Point) {
	if quiet {
		s.Node(name, at)
		return
	}
	s.Shown(name, at, 0.7, 0, drawing.Start)
}

// driver draws the source and the driver behind it, with the collector's junction at
// a point: the transistor below it, the base divider to the left.
func (s *sheet) driver(collector drawing.Point) {
	at := func(x, y int) drawing.Point { return collector.Plus(pt(x, y)) }
	q := s.transistor(drawing.NPN, "driver", at(-1, driverBase))
	s.Wire(collector, q.Pin("collector"))
	s.Shown("driver collector", collector, 0.7, 1.2, drawing.Start)

	input, source, base := at(driverInput, driverBase), at(driverSource, driverBase), at(driverDivider, driverBase)
	s.signal(input)
	if s.driven(input, source) {
		s.Node("source", source)
	}
	s.Level(drawing.Part{Kind: drawing.Capacitor, Key: "driver.input_capacitor"}, source, base)
	s.Wire(base, q.Pin("base"))
	s.Shown("driver base", base, 0.7, 1.1, drawing.Start)
	top, foot := at(driverDivider, driverTop), at(driverDivider, driverBase+8)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "driver.divider_upper", Label: drawing.LeftOf(drawing.Resistor, top, base)}, top, base)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "driver.divider_lower", Label: drawing.LeftOf(drawing.Resistor, base, foot)}, base, foot)
	s.localRail(top)
	s.lowerEnd(foot)
	s.driverEmitter(q.Pin("emitter"))
}

// driverEmitter draws what stands below the driver's emitter.
func (s *sheet) driverEmitter(emitter drawing.Point) {
	d := &s.parts.Driver
	s.Shown("driver emitter", emitter, -0.7, 0.4, drawing.End)
	foot := emitter
	if d.Degeneration > 0 {
		foot = emitter.Plus(pt(0, 6))
		s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "driver.degeneration"}, emitter, foot)
		s.Shown("driver foot", foot, -0.7, 0.4, drawing.End)
	}
	end := foot.Plus(pt(0, 6))
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "driver.emitter", Label: drawing.LeftOf(drawing.Resistor, foot, end)}, foot, end)
	if d.Bypass > 0 {
		top, bottom := foot.Plus(pt(bypassColumn, 0)), end.Plus(pt(bypassColumn, 0))
		s.Wire(foot, top)
		s.Upright(drawing.Part{Kind: drawing.Capacitor, Key: "driver.bypass"}, top, bottom)
		s.Wire(bottom, end)
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
func (s *sheet) lowerEnd(at drawing.Point) {
	if !s.dual() {
		s.ground(at)
		return
	}
	s.Node("lower rail", at)
	s.Put(drawing.Part{
		Kind: drawing.Rail, At: at, Flip: true, Value: -s.parts.Supply.Negative, Unit: "V",
		Label: drawing.LabelAt(at, -1.1, 0.5, drawing.End),
	})
}

// choke draws a forced bias that reaches a base through a coil.
func (s *sheet) choke(base drawing.Point) {
	feed := base.Plus(pt(0, 8))
	s.Node("choke", feed)
	s.Upright(drawing.Part{Kind: drawing.Inductor, Value: s.parts.ChokeHenries(), Unit: "H"}, base, feed)
	s.Upright(drawing.Part{Kind: drawing.Source, Device: "bias", Share: 1}, feed, feed.Plus(pt(0, 6)))
	s.ground(feed.Plus(pt(0, 6)))
}
