package network

import "math"

// Amplifier is a voltage amplifier with one pole, an output of no resistance and a
// limited swing: the driver inside a feedback loop.
type Amplifier struct {
	Plus, Minus, Out Node
	Gain             float64 // at direct current, > 1
	Bandwidth        float64 // gain-bandwidth product, Hz, > 0
	Swing            float64 // maximum output on either side, V, > 0
}

// Scales of the amplifier's inside: so small a transconductance that its energy is
// lost in any account, and a clamp that gives a tenth of a volt under 10 V of error.
const (
	innerSiemens = 1e-9
	clampGain    = 100
	clampVolts   = 0.05 // over which the clamp sets in
)

// attach makes an inner node whose voltage is the output: the difference of the
// inputs feeds it a current, it leaks by the gain and stores by the bandwidth.
func (m Amplifier) attach(a *assembly) {
	inner := a.variable()
	a.entry(inner, a.node(m.Plus), -innerSiemens)
	a.entry(inner, a.node(m.Minus), innerSiemens)
	a.entry(inner, inner, innerSiemens/m.Gain)
	a.store(inner, grounded, innerSiemens/(2*math.Pi*m.Bandwidth), false, true)
	b := a.branch(m.Out, Ground)
	a.entry(b, a.node(m.Out), 1)
	a.entry(b, inner, -1)
	a.loads = append(a.loads, &clampLoad{variable: [1]int{inner}, swing: m.Swing})
}

// clampLoad keeps a node within a swing about ground.
type clampLoad struct {
	variable [1]int
	swing    float64
	p        int
}

func (c *clampLoad) terminals() []int { return c.variable[:] }

func (c *clampLoad) bind(index func(int) int) { c.p = index(c.variable[0]) }

func (c *clampLoad) reset() {}

func (c *clampLoad) stamp(s *stamper) bool {
	over, g := softplus((s.x[c.p] - c.swing) / clampVolts)
	under, h := softplus((-s.x[c.p] - c.swing) / clampVolts)
	ground := s.stride - 1
	s.current(c.p, ground, clampGain*innerSiemens*clampVolts*(over-under))
	s.conductance(c.p, ground, clampGain*innerSiemens*(g+h))
	return false
}

// softplus returns ln(1 + e^x) and its slope.
func softplus(x float64) (value, slope float64) {
	if x > 40 {
		return x, 1
	}
	e := math.Exp(x)
	return math.Log1p(e), e / (1 + e)
}
