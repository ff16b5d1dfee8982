package drawing

// The two halves of a complementary pair, upper and lower, are one drawing
// mirrored about the line of tap and output: side is -1 above it and +1 below.
var sides = [2]struct {
	name    string
	side    int
	bipolar Kind
	channel Kind
}{
	{"upper", -1, NPN, NChannel},
	{"lower", 1, PNP, PChannel},
}

// pair draws what the pairs on two rails share: the front, bias parts in the column
// zero, the rails from the column that the forced form begins at to the outputs,
// the load and the loop.
func (s *sheet) pair(reach, rail, forced, outputs int) {
	load := Point{outputs + 12, 0}
	s.front()
	s.portBias(Point{}, reach)
	s.feeds(0, reach, rail)
	s.rails(s.railsFrom(0, forced), outputs, rail)
	s.wire(Point{outputs, 0}, load)
	s.load(load)
	s.loop(load.X, rail)
}

func drawFollower(s *sheet) {
	const outputs = 10
	reach := s.reach(9)
	s.pair(reach, reach+7, outputs, outputs)
	s.followers(0, outputs, reach, reach+7)
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
