package network

// Charger joins two nodes by a conductance that another node's voltage turns up and
// down: the current from From to To is their voltage over Ohms, times the voltage of
// Gate against ground. With a driven gate that pulses it is a rectifier as the reservoir
// behind it sees it: shut for most of the mains cycle, and a resistance at its crests.
type Charger struct {
	From, To, Gate Node
	Ohms           float64 // at a gate of 1 V, > 0
}

func (c Charger) attach(a *assembly) {
	a.loads = append(a.loads, &chargerLoad{
		variable: [3]int{a.node(c.From), a.node(c.To), a.node(c.Gate)}, siemens: 1 / c.Ohms,
	})
}

type chargerLoad struct {
	variable [3]int
	siemens  float64
	p, q, g  int
}

func (c *chargerLoad) terminals() []int { return c.variable[:] }

func (c *chargerLoad) bind(index func(int) int) {
	c.p, c.q, c.g = index(c.variable[0]), index(c.variable[1]), index(c.variable[2])
}

func (c *chargerLoad) reset() {}

func (c *chargerLoad) stamp(s *stamper) bool {
	across, gate := s.x[c.p]-s.x[c.q], s.x[c.g]
	s.current(c.p, c.q, c.siemens*gate*across)
	s.conductance(c.p, c.q, c.siemens*gate)
	s.transfer(c.p, c.q, c.g, s.stride-1, c.siemens*across)
	return false
}
