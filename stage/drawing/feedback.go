package drawing

// Parts of the feedback divider that the circuits fix, ohms: its lower resistor.
const feedbackOhms = 1e3

// front draws what drives a pair on two rails, ending at its tap in the column
// zero: the source, and where there is one the driver or the amplifier of a feedback
// loop.
func (s *sheet) front() {
	tap := Point{}
	if s.hasDriver() {
		collector := Point{-16, 0}
		s.entrance(collector, collector, "")
		s.level(Part{Kind: Capacitor, Key: "driver.output_capacitor"}, collector, tap)
		s.shown("tap", tap, 0.7, 0, Start)
		return
	}
	if s.parts.Feedback.Gain == 0 {
		input := Point{-11, 0}
		s.signal(input)
		if s.driven(input, tap) {
			s.shown("source", tap, 0.7, 0, Start)
		}
		return
	}
	input := Point{-17, -1}
	s.signal(input)
	a := s.put(Part{
		Kind: Amplifier, Key: "feedback.open_loop_gain", At: Point{-6, 0}, Label: Label{Place{-6, 3}, Middle},
	})
	if s.driven(input, a.Pin("plus")) {
		s.node("source", a.Pin("plus"))
	}
	s.wire(a.Pin("out"), tap)
	s.shown("tap", tap, 0.7, 0, Start)
}

// loop closes the feedback loop, where there is one, from the load's end of the
// output below the lower rail back to the amplifier in front.
func (s *sheet) loop(load, rail int) {
	f := &s.parts.Feedback
	if f.Gain == 0 {
		return
	}
	minus := Point{-9, 1}
	foot := Point{minus.X - 1, rail + 4}
	end := Point{load + 11, foot.Y}
	s.wire(Point{load, 0}, Point{end.X, 0}, end)
	s.wire(minus, Point{foot.X, minus.Y}, foot)
	if f.Closed <= 1 {
		s.wire(foot, end)
		return
	}
	s.node("feedback", foot)
	s.level(Part{Kind: Resistor, Value: (f.Closed - 1) * feedbackOhms, Unit: "ohm"}, foot, foot.plus(Point{10, 0}))
	s.wire(foot.plus(Point{10, 0}), end)
	s.upright(Part{Kind: Resistor, Value: feedbackOhms, Unit: "ohm"}, foot, foot.plus(Point{0, 6}))
	s.ground(foot.plus(Point{0, 6}))
}
