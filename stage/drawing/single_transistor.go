package drawing

func drawSingleTransistor(s *sheet) {
	t := s.inputTransformer(false)
	q := s.common(Point{23, -4})
	s.wire(t.Pin("s1"), q.Pin("base"))
	s.shown("base", t.Pin("s1"), 0.8, 1, Start)
	tap := t.Pin("s2").plus(Point{0, 4})
	first := tap.plus(Point{10, 0})
	s.wire(t.Pin("s2"), tap, first)
	s.shown("tap", tap, 0.6, -0.8, Start)
	s.tapBias(first, s.tapDepth(6), 7)
}
