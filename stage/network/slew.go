package network

import "math"

// SlewedAmplifier is an [Amplifier] whose input stage delivers only so much current to
// the capacitance that makes its first pole, so that its output moves no faster than its
// slew limit, and which may have a second pole behind the first. The input stage is a
// differential pair, whose current goes as the hyperbolic tangent of its input (Gray and
// Meyer, Analysis and Design of Analog Integrated Circuits, emitter-coupled pair; slew
// rate as its tail current over the compensation capacitance, same book).
type SlewedAmplifier struct {
	Amplifier
	Slew       float64 // V/s, > 0; 0: no limit
	SecondPole float64 // Hz, > 0; 0: none
}

func (m SlewedAmplifier) attach(a *assembly) {
	inner := a.variable()
	plus, minus := a.node(m.Plus), a.node(m.Minus)
	if m.Slew > 0 {
		a.loads = append(a.loads, &tailLoad{
			variable: [3]int{plus, minus, inner}, amperes: m.Slew * innerSiemens / (2 * math.Pi * m.Bandwidth),
		})
	} else {
		a.entry(inner, plus, -innerSiemens)
		a.entry(inner, minus, innerSiemens)
	}
	a.entry(inner, inner, innerSiemens/m.Gain)
	a.store(inner, grounded, innerSiemens/(2*math.Pi*m.Bandwidth), false, true)
	a.loads = append(a.loads, &clampLoad{variable: [1]int{inner}, swing: m.Swing})
	last := inner
	if m.SecondPole > 0 {
		last = a.variable()
		a.entry(last, last, innerSiemens)
		a.entry(last, inner, -innerSiemens)
		a.store(last, grounded, innerSiemens/(2*math.Pi*m.SecondPole), false, true)
	}
	b := a.branch(m.Out, Ground)
	a.entry(b, a.node(m.Out), 1)
	a.entry(b, last, -1)
}

// tailLoad feeds a node the current of a differential pair.
type tailLoad struct {
	variable [3]int // plus, minus, fed
	amperes  float64
	p, m, f  int
}

func (t *tailLoad) terminals() []int { return t.variable[:] }

func (t *tailLoad) bind(index func(int) int) {
	t.p, t.m, t.f = index(t.variable[0]), index(t.variable[1]), index(t.variable[2])
}

func (t *tailLoad) reset() {}

func (t *tailLoad) stamp(s *stamper) bool {
	x := math.Tanh(innerSiemens * (s.x[t.p] - s.x[t.m]) / t.amperes)
	// A saturated pair keeps a trace of slope, so that Newton's method finds back.
	slope := innerSiemens * max(1-x*x, 1e-9)
	ground := s.stride - 1
	s.current(t.f, ground, -t.amperes*x)
	s.transfer(t.f, ground, t.p, t.m, -slope)
	return false
}
