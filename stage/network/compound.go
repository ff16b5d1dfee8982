package network

import (
	"math"

	"quietcross/dsp/elementary"
)

// This file builds parts that are several elements in one: the loudspeaker, as a coil in
// series with a parallel resonance; the transformer, as an ideal coupling about a
// magnetising inductance, which may saturate; and the amplifier of a feedback loop, as a
// leaky integrator whose voltage a clamp keeps in its swing. Each is written into the
// assembly as inner variables, resistances, stores and, where it bends, loads.

// Loudspeaker is a moving-coil drive unit in an infinite baffle, as its terminals
// show it: voice-coil resistance and inductance in series with the parallel
// resonance of the moving system (A. N. Thiele, JAES 19(5):382, 1971; R. H. Small,
// JAES 20(5):383, 1972).
type Loudspeaker struct {
	A, B Node
	SpeakerLaw
}

// SpeakerLaw holds a loudspeaker's small-signal parameters.
type SpeakerLaw struct {
	Ohms      float64 // Re, voice-coil resistance, > 0
	Henries   float64 // Le, voice-coil inductance, >= 0
	Resonance float64 // fs, Hz, > 0
	Qms, Qes  float64 // mechanical and electrical quality at fs, > 0
}

// Motional returns the elements of the moving system as the terminals see them:
//
//	Res = Re Qms/Qes ohms, Cmes = Qes/(2 pi fs Re) farads, Lces = Re/(2 pi fs Qes) henries
func (l SpeakerLaw) Motional() (ohms, farads, henries float64) {
	w := 2 * math.Pi * l.Resonance
	return l.Ohms * l.Qms / l.Qes, l.Qes / (w * l.Ohms), l.Ohms / (w * l.Qes)
}

// Qts returns the total quality Qms Qes/(Qms + Qes), and the maximum impedance
// Re + Res, in ohms.
func (l SpeakerLaw) Qts() (total, maximum float64) {
	ohms, _, _ := l.Motional()
	return l.Qms * l.Qes / (l.Qms + l.Qes), l.Ohms + ohms
}

func (l Loudspeaker) attach(a *assembly) {
	ohms, farads, henries := l.Motional()
	at := a.through(a.node(l.A), l.Ohms)
	if l.Henries > 0 {
		inner := a.variable()
		a.store(at, inner, l.Henries, true, true)
		at = inner
	}
	end := a.node(l.B)
	a.conductance(at, end, 1/ohms)
	a.speakers = append(a.speakers, len(a.reactances))
	a.store(at, end, farads, false, false)
	a.store(at, end, henries, true, false)
}

// Cone returns the movement behind the i-th loudspeaker's terminals in the order
// added: the voltage that the moving coil induces, Bl times its velocity, and that
// voltage's integral in volt-seconds, Bl times the displacement from rest.
func (t *Transient) Cone(i int) (induced, integral float64) {
	first := t.solver.assembly.speakers[i]
	spring := &t.solver.assembly.reactances[first+1]
	held := t.latest()
	return held[first], spring.size * held[first+1]
}

// Winding is one winding of a transformer, its start at A.
type Winding struct {
	A, B    Node
	Turns   float64 // relative to the others, > 0
	Ohms    float64 // resistance, >= 0
	Leakage float64 // leakage inductance, H, >= 0
}

// Transformer couples its windings ideally, volts a turn being equal in all and
// ampere-turns adding up to nothing, around a magnetising inductance.
type Transformer struct {
	Windings    []Winding // at least one
	Magnetising float64   // inductance of the first winding, H, > 0
	// Saturation is the flux linkage of the first winding, in volt-seconds, at which
	// its magnetising current is twice what the inductance alone would draw; 0: the
	// core does not saturate.
	Saturation float64
}

func (t Transformer) attach(a *assembly) {
	type end struct{ p, q, current int }
	ends := make([]end, len(t.Windings))
	for i, w := range t.Windings {
		p := a.through(a.node(w.A), w.Ohms)
		if w.Leakage > 0 {
			inner := a.variable()
			a.store(p, inner, w.Leakage, true, true)
			p = inner
		}
		ends[i] = end{p, a.node(w.B), a.variable()}
		a.currents[ends[i].current] = true
		a.entry(ends[i].p, ends[i].current, 1)
		a.entry(ends[i].q, ends[i].current, -1)
	}
	first := ends[0]
	for i, e := range ends {
		a.entry(first.current, e.current, t.Windings[i].Turns)
		if i == 0 {
			continue
		}
		ratio := t.Windings[i].Turns / t.Windings[0].Turns
		a.entry(e.current, e.p, 1)
		a.entry(e.current, e.q, -1)
		a.entry(e.current, first.p, -ratio)
		a.entry(e.current, first.q, ratio)
	}
	if t.Saturation > 0 {
		core(a, first.p, first.q, t.Magnetising, t.Saturation)
		return
	}
	a.store(first.p, first.q, t.Magnetising, true, false)
}

// coreOrder is the power of flux at which a saturating core's current departs from
// its inductance's.
const coreOrder = 8

// core puts a saturating inductance between two variables. Its flux linkage is a
// variable on a capacitance of one farad whose current is the winding's voltage, so
// that flux is the integral of voltage in time, holds still at midband, and settles
// at rest where the winding's direct current needs it.
func core(a *assembly, p, q int, henries, saturation float64) {
	flux := a.variable()
	rate := a.variable()
	a.currents[rate] = true
	a.entry(flux, rate, 1)
	a.entry(flux, p, -1)
	a.entry(flux, q, 1)
	a.storeOf(rate, flux, grounded, 1, false, false)
	a.reactances[len(a.reactances)-1].flux = &coreLaw{henries, saturation}
	a.loads = append(a.loads, &coreLoad{law: coreLaw{henries, saturation}, variable: [3]int{p, q, flux}})
}

// coreLaw is i = f/L (1 + (f/fs)^8) for a flux linkage f: a power series of two odd
// terms, as textbooks fit to a magnetising curve.
type coreLaw struct{ henries, saturation float64 }

// part returns (f/fs)^8.
func (c *coreLaw) part(flux float64) float64 {
	x := flux / c.saturation
	x *= x
	x *= x
	return x * x
}

// current returns the magnetising current and its derivative.
func (c *coreLaw) current(flux float64) (i, slope float64) {
	part := c.part(flux)
	return flux / c.henries * (1 + part), (1 + (coreOrder+1)*part) / c.henries
}

// energy returns what the core stores, the integral of current over flux.
func (c *coreLaw) energy(flux float64) float64 {
	part := c.part(flux)
	return flux * flux / c.henries * (0.5 + part/(coreOrder+2))
}

// coreLoad draws the magnetising current.
type coreLoad struct {
	law      coreLaw
	variable [3]int // winding's ends, flux
	p, q, f  int
}

func (c *coreLoad) terminals() []int { return c.variable[:] }

func (c *coreLoad) bind(index func(int) int) {
	c.p, c.q, c.f = index(c.variable[0]), index(c.variable[1]), index(c.variable[2])
}

func (c *coreLoad) reset() {}

func (c *coreLoad) stamp(s *stamper) bool {
	i, slope := c.law.current(s.x[c.f])
	s.current(c.p, c.q, i)
	s.transfer(c.p, c.q, c.f, s.stride-1, slope)
	return false
}

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
	if leak := s.leak - leakConductance; leak > 0 { // while it is stepped: no more gain than its inverse
		s.current(c.p, ground, leak*innerSiemens*s.x[c.p])
		s.conductance(c.p, ground, leak*innerSiemens)
	}
	s.current(c.p, ground, clampGain*innerSiemens*clampVolts*(over-under))
	s.conductance(c.p, ground, clampGain*innerSiemens*(g+h))
	return false
}

// softplus returns ln(1 + e^x) and its slope.
func softplus(x float64) (value, slope float64) {
	if x > 40 {
		return x, 1
	}
	e := elementary.Exp(x)
	return math.Log1p(e), e / (1 + e)
}
