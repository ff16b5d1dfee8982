package drawing

// portBias puts what stands between the bases of a complementary pair into a
// column about the tap at its middle: diodes, or the ideal source of a forced
// bias. The bases are at reach above and below.
func (s *sheet) portBias(tap Point, reach int) {
	upper, lower := tap.plus(Point{0, -reach}), tap.plus(Point{0, reach})
	if s.forced {
		s.upright(Part{Kind: Source, Device: "upper bias", Share: 0.5}, upper, tap)
		s.upright(Part{Kind: Source, Device: "lower bias", Share: 0.5}, tap, lower)
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
func (s *sheet) baseNodes(upper, lower Point, parts int) {
	dy := 0.0
	if s.across() {
		dy = 1
	}
	if parts > 1 {
		s.shown("upper base", upper, -0.7, -dy, End)
	}
	if parts > 0 {
		s.shown("lower base", lower, -0.7, dy, End)
	}
}

// seriesRoom is how much of a half's column a trimmer in series with the diodes takes.
const seriesRoom = 6

// half puts one half of the bias parts between a base and the tap: diodes, behind half
// of a trimmer in series with them. The tap is inward of the base, 1 below and -1 above.
func (s *sheet) half(name string, diodes int, base, tap Point, inward int) {
	from := base
	if ohms := s.parts.Bias.Shown(); ohms > 0 {
		end := tap
		if diodes > 0 {
			end = base.plus(Point{0, inward * seriesRoom})
			s.node(name, end)
		}
		trimmer := Part{Kind: Resistor, Value: ohms, Unit: "ohm"}
		if inward > 0 {
			s.upright(trimmer, base, end)
		} else {
			s.upright(trimmer, end, base)
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
func (s *sheet) trimmerAcross(upper, lower Point) {
	top, bottom := upper.plus(Point{acrossColumn, 0}), lower.plus(Point{acrossColumn, 0})
	foot := top.plus(Point{0, 6})
	s.wire(upper, top)
	s.upright(Part{Kind: Resistor, Key: "bias.trimmer_across", Label: leftOf(Resistor, top, foot)}, top, foot)
	s.wire(foot, bottom, lower)
}

// diodes puts count diodes in series between two points of a column, or a wire.
func (s *sheet) diodes(device string, count int, top, bottom Point) {
	if count == 0 {
		s.wire(top, bottom)
		return
	}
	s.upright(Part{Kind: Diode, Device: device, Count: count}, top, bottom)
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
	s.upright(Part{Kind: Resistor, Key: "bias.feed_upper"}, Point{column, -rail}, Point{column, -reach})
	s.upright(Part{Kind: Resistor, Key: "bias.feed_lower"}, Point{column, reach}, Point{column, rail})
}

// rails draws the two rails at a height above and below the middle, each over a
// stretch with its terminal at the right end.
func (s *sheet) rails(left, right, height int) {
	for _, y := range []int{-height, height} {
		s.wire(Point{left, y}, Point{right, y})
	}
	s.rail("upper rail", Point{right, -height}, 1.2, -0.5, Start)
	s.rail("lower rail", Point{right, height}, 1.2, 0.5, Start)
}

// railsFrom is the column at which the rails begin: that of the bias parts, or that
// of the output devices where a forced bias leaves the feeds out.
func (s *sheet) railsFrom(bias, outputs int) int {
	if s.fed() {
		return bias
	}
	return outputs
}
