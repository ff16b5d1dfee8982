package circuits

import "quietcross/stage/drawing"

// The drawing of what the complementary pairs share. The upper half is drawn, and the
// lower is its mirror about the line of tap and output; the bias parts stand in a column
// about the tap, whose height follows from how many they are.

// The two halves of a complementary pair, upper and lower, are one drawing
// mirrored about the line of tap and output: side is -1 above it and +1 below.
var sides = [2]struct {
	name    string
	side    int
	bipolar drawing.Kind
	channel drawing.Kind
}{
	{"upper", -1, drawing.NPN, drawing.NChannel},
	{"lower", 1, drawing.PNP, drawing.PChannel},
}

// pair draws what the pairs on two rails share: the front, bias parts in the column
// zero, the rails from the column that the forced form begins at to the outputs,
// the load and the loop.
func (s *sheet) pair(reach, rail, forced, outputs int) {
	load := pt(outputs+12, 0)
	s.front()
	s.portBias(drawing.Point{}, reach)
	s.feeds(0, reach, rail)
	s.rails(s.railsFrom(0, forced), outputs, rail)
	s.Wire(pt(outputs, 0), load)
	s.load(load)
	s.loop(load.X, rail)
}

// followers puts the two output devices into a column, their bases wired to the
// column from and their collectors to the rails, and joins their emitters at the
// line of the output.
func (s *sheet) followers(from, column, reach, rail int) {
	for _, half := range sides {
		base := pt(from, half.side*reach)
		q := s.transistor(half.bipolar, half.name, pt(column-1, base.Y))
		s.Wire(base, q.Pin("base"))
		s.Wire(q.Pin("collector"), pt(column, half.side*rail))
		s.leg(half.name+" emitter", q.Pin("emitter"), pt(column, 0))
	}
}

// front draws what drives a pair on two rails, ending at its tap in the column
// zero: the source, and where there is one the driver or the amplifier of a feedback
// loop.
func (s *sheet) front() {
	tap := drawing.Point{}
	if s.hasDriver() {
		collector := pt(-16, 0)
		s.entrance(collector, collector, "")
		s.Level(drawing.Part{Kind: drawing.Capacitor, Key: "driver.output_capacitor"}, collector, tap)
		s.Shown("tap", tap, 0.7, 0, drawing.Start)
		return
	}
	if s.parts.Feedback.Gain == 0 {
		input := pt(-11, 0)
		s.signal(input)
		if s.driven(input, tap) {
			s.Shown("source", tap, 0.7, 0, drawing.Start)
		}
		return
	}
	input := pt(-17, -1)
	s.signal(input)
	a := s.Put(drawing.Part{
		Kind: drawing.Amplifier, Key: "feedback.open_loop_gain", At: pt(-6, 0), Label: drawing.Label{At: drawing.Place{X: -6, Y: 3}, Align: drawing.Middle},
	})
	if s.driven(input, a.Pin("plus")) {
		s.Node("source", a.Pin("plus"))
	}
	s.Wire(a.Pin("out"), tap)
	s.Shown("tap", tap, 0.7, 0, drawing.Start)
}

// loop closes the feedback loop, where there is one, from the load's end of the
// output below the lower rail back to the amplifier in front.
func (s *sheet) loop(load, rail int) {
	f := &s.parts.Feedback
	if f.Gain == 0 {
		return
	}
	minus := pt(-9, 1)
	foot := pt(minus.X-1, rail+4)
	end := pt(load+11, foot.Y)
	s.Wire(pt(load, 0), pt(end.X, 0), end)
	s.Wire(minus, pt(foot.X, minus.Y), foot)
	if f.Closed <= 1 {
		s.Wire(foot, end)
		return
	}
	s.Node("feedback", foot)
	s.Level(drawing.Part{Kind: drawing.Resistor, Value: (f.Closed - 1) * feedbackOhms, Unit: "ohm"}, foot, foot.Plus(pt(10, 0)))
	s.Wire(foot.Plus(pt(10, 0)), end)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Value: feedbackOhms, Unit: "ohm"}, foot, foot.Plus(pt(0, 6)))
	s.ground(foot.Plus(pt(0, 6)))
}

// portBias puts what stands between the bases of a complementary pair into a
// column about the tap at its middle: diodes, or the ideal source of a forced
// bias. The bases are at reach above and below.
func (s *sheet) portBias(tap drawing.Point, reach int) {
	upper, lower := tap.Plus(pt(0, -reach)), tap.Plus(pt(0, reach))
	if s.forced {
		s.Upright(drawing.Part{Kind: drawing.Source, Device: "upper bias", Share: 0.5}, upper, tap)
		s.Upright(drawing.Part{Kind: drawing.Source, Device: "lower bias", Share: 0.5}, tap, lower)
		s.baseNodes(upper, lower, 2)
		return
	}
	n := s.parts.Bias.Diodes
	s.half("upper diodes", n/2, upper, tap, 1)
	s.half("lower diodes", n-n/2, lower, tap, -1)
	parts := n
	if s.parts.Bias.Shown() > 0 {
		parts = max(parts, 2)
	}
	s.baseNodes(upper, lower, parts)
	if s.across() {
		s.trimmerAcross(upper, lower)
	}
}

// baseNodes names the two ends of the bias port; with nothing between an end and the
// tap the end is the tap.
func (s *sheet) baseNodes(upper, lower drawing.Point, parts int) {
	dy := 0.0
	if s.across() {
		dy = 1
	}
	if parts > 1 {
		s.Shown("upper base", upper, -0.7, -dy, drawing.End)
	}
	if parts > 0 {
		s.Shown("lower base", lower, -0.7, dy, drawing.End)
	}
}

// seriesRoom is how much of a half's column a trimmer in series with the diodes takes.
const seriesRoom = 6

// half puts one half of the bias parts between a base and the tap: diodes, behind half
// of a trimmer in series with them. The tap is inward of the base, 1 below and -1 above.
func (s *sheet) half(name string, diodes int, base, tap drawing.Point, inward int) {
	from := base
	if ohms := s.parts.Bias.Shown(); ohms > 0 {
		end := tap
		if diodes > 0 {
			end = base.Plus(pt(0, inward*seriesRoom))
			s.Node(name, end)
		}
		trimmer := drawing.Part{Kind: drawing.Resistor, Value: ohms, Unit: "ohm"}
		if inward > 0 {
			s.Upright(trimmer, base, end)
		} else {
			s.Upright(trimmer, end, base)
		}
		from = end
	}
	if inward > 0 {
		s.diodes(name, diodes, from, tap)
	} else {
		s.diodes(name, diodes, tap, from)
	}
}

// across reports whether a trimmer joins the two bases.
func (s *sheet) across() bool {
	b := &s.parts.Bias
	return !s.forced && b.Across > 0 && (b.Diodes > 0 || b.Shown() > 0)
}

// acrossColumn is where a trimmer from base to base stands, left of the diodes.
const acrossColumn = -2

// trimmerAcross draws the trimmer from base to base, above the line of the tap.
func (s *sheet) trimmerAcross(upper, lower drawing.Point) {
	top, bottom := upper.Plus(pt(acrossColumn, 0)), lower.Plus(pt(acrossColumn, 0))
	foot := top.Plus(pt(0, 6))
	s.Wire(upper, top)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "bias.trimmer_across", Label: drawing.LeftOf(drawing.Resistor, top, foot)}, top, foot)
	s.Wire(foot, bottom, lower)
}

// diodes puts count diodes in series between two points of a column, or a wire.
func (s *sheet) diodes(device string, count int, top, bottom drawing.Point) {
	if count == 0 {
		s.Wire(top, bottom)
		return
	}
	s.Upright(drawing.Part{Kind: drawing.Diode, Device: device, Count: count}, top, bottom)
}

// reach is how far the bases stand from the tap so that the bias parts fit: minimum,
// or more for many diodes.
func (s *sheet) reach(minimum int) int {
	n := s.parts.Bias.Diodes
	if s.forced {
		return minimum
	}
	room := 2*(1+n-n/2) + 2
	if s.parts.Bias.Shown() > 0 {
		room += seriesRoom
	}
	return max(minimum, room)
}

// feeds puts a feed resistor from each rail to its end of the bias port.
func (s *sheet) feeds(column, reach, rail int) {
	if !s.fed() {
		return
	}
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "bias.feed_upper"}, pt(column, -rail), pt(column, -reach))
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "bias.feed_lower"}, pt(column, reach), pt(column, rail))
}

// rails draws the two rails at a height above and below the middle, each over a
// stretch with its terminal at the right end.
func (s *sheet) rails(left, right, height int) {
	for _, y := range []int{-height, height} {
		s.Wire(pt(left, y), pt(right, y))
	}
	s.rail("upper rail", pt(right, -height), 1.2, -0.5, drawing.Start)
	s.rail("lower rail", pt(right, height), 1.2, 0.5, drawing.Start)
}

// railsFrom is the column at which the rails begin: that of the bias parts, or that
// of the output devices where a forced bias leaves the feeds out.
func (s *sheet) railsFrom(bias, outputs int) int {
	if s.fed() {
		return bias
	}
	return outputs
}
