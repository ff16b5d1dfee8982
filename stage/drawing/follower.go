package drawing

// The two halves of a complementary pair, upper and lower, are one drawing
// mirrored about the line of tap and output: side is -1 above it and +1 below.
var sides = [2]struct {
	name    string
	side    int
	bipolar Kind
	channel Kind
	base    string // node name of its end of the bias port
}{
	{"upper", -1, NPN, NChannel, "upper base"},
	{"lower", 1, PNP, PChannel, "lower base"},
}

func drawFollower(s *sheet) {
	const bias, outputs, load = 11, 21, 33
	reach := s.reach(9)
	tap := Point{bias, 0}
	s.signal(Point{})
	if s.driven(Point{}, tap) {
		s.shown("tap", tap, 0.7, 0, Start)
	}
	s.portBias(tap, reach)
	s.feeds(bias, reach, reach+7)
	s.rails(s.railsFrom(bias, outputs), outputs, reach+7)
	s.followers(bias, outputs, reach, reach+7)
	s.wire(Point{outputs, 0}, Point{load, 0})
	s.load(Point{load, 0})
}

// followers puts the two output devices into a column, their bases wired to the
// column from and their collectors to the rails, and joins their emitters at the
// line of the output.
func (s *sheet) followers(from, column, reach, rail int) {
	for _, half := range sides {
		base := Point{from, half.side * reach}
		q := s.transistor(half.bipolar, half.name, Point{column - 1, base.Y})
		s.wire(base, q.Pin("base"))
		s.wire(q.Pin("collector"), Point{column, half.side * rail})
		s.leg(half.name+" emitter", q.Pin("emitter"), Point{column, 0})
	}
}
