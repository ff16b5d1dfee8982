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
	s.diodes("upper diodes", n/2, upper, tap)
	s.diodes("lower diodes", n-n/2, tap, lower)
	s.baseNodes(upper, lower, n)
}

// baseNodes names the two ends of the bias port; without diodes on a side the end
// is the tap.
func (s *sheet) baseNodes(upper, lower Point, diodes int) {
	if diodes > 1 {
		s.shown("upper base", upper, -0.7, 0, End)
	}
	if diodes > 0 {
		s.shown("lower base", lower, -0.7, 0, End)
	}
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
	return max(minimum, 2*(1+n-n/2)+2)
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
