package drawing

func drawSourceFollower(s *sheet) {
	const outputs, reach, rail = 36, 10, 18
	from := s.multiplierInput(outputs, reach, rail)
	for _, half := range sides {
		gate := Point{from, half.side * reach}
		q := s.transistor(half.channel, half.name, Point{outputs - 1, half.side * (reach + 1)})
		s.wire(gate, q.Pin("gate"))
		s.wire(q.Pin("drain"), Point{outputs, half.side * rail})
		s.leg(half.name+" source", q.Pin("source"), Point{outputs, 0})
	}
	s.multiplierOutput(outputs)
}
