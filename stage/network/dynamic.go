package network

import "math"

// mode is how the dynamic elements, those that store energy, enter the equations.
type mode uint8

const (
	// atRest: capacitors are open and inductors are shorts.
	atRest mode = iota
	// midband: capacitors hold their voltages and inductors their currents, as they
	// do while a signal passes that is fast against them; parasitic ones are as at
	// rest, for the signal is slow against those.
	midband
	// inTime: each is a resistance with a source that remembers the last step.
	inTime
)

// reactance is one energy store with its own branch: a capacitance in farads or
// an inductance in henries.
type reactance struct {
	branch    int // variable of its current
	p, q      int // variables of its voltage
	inductive bool
	parasitic bool
	inside    bool // a device's own
	size      float64
	impedance float64 // 2C/h or 2L/h in time, 0 otherwise
	source    int     // column of its memory
}

// store adds an energy store between two variables. In every mode it is one
// branch equation with one memory:
//
//	capacitance: at rest i = 0; midband v = memory; in time i - (2C/h) v + memory = 0
//	inductance:  at rest v = 0; midband i = memory; in time v - (2L/h) i + memory = 0
//
// In time this is the trapezoidal rule, memory = (2C/h) v + i of the last step for
// a capacitance and (2L/h) i + v for an inductance.
func (a *assembly) store(p, q int, size float64, inductive, parasitic bool) (branch int) {
	b := a.variable()
	a.currents[b] = true
	a.entry(p, b, 1)
	a.entry(q, b, -1)
	a.storeOf(b, p, q, size, inductive, parasitic)
	return b
}

// storeOf writes the equation of a store whose current is variable b, wherever
// that current flows.
func (a *assembly) storeOf(b, p, q int, size float64, inductive, parasitic bool) {
	r := reactance{branch: b, p: p, q: q, inductive: inductive, parasitic: parasitic, size: size}
	r.source = a.memory()
	voltage, current, memory := 1.0, 0.0, 0.0 // an inductor at rest
	if !inductive {
		voltage, current = 0, 1
	}
	switch {
	case a.mode == inTime:
		r.impedance = 2 * size / a.step
		memory = 1
		if inductive {
			current = -r.impedance
		} else {
			voltage = -r.impedance
		}
	case a.mode == midband && !parasitic:
		voltage, current = current, voltage
		memory = -1
	}
	a.entry(b, p, voltage)
	a.entry(b, q, -voltage)
	a.entry(b, b, current)
	a.inputs = append(a.inputs, entry{b, r.source, memory})
	a.reactances = append(a.reactances, r)
}

// memory makes a source that the solver itself sets.
func (a *assembly) memory() int {
	a.sources++
	return a.sources - 1
}

// Capacitor joins two nodes by a capacitance, > 0. A parasitic one is so small that
// it plays no part at midband.
type Capacitor struct {
	A, B      Node
	Farads    float64
	Parasitic bool
}

func (c Capacitor) attach(a *assembly) {
	a.store(a.node(c.A), a.node(c.B), c.Farads, false, c.Parasitic)
}

// Inductor joins two nodes by an inductance, > 0, without resistance. A parasitic
// one is so small that it plays no part at midband.
type Inductor struct {
	A, B      Node
	Henries   float64
	Parasitic bool
}

func (l Inductor) attach(a *assembly) {
	a.store(a.node(l.A), a.node(l.B), l.Henries, true, l.Parasitic)
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
	a.store(first.p, first.q, t.Magnetising, true, false)
}

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

// Qts returns the total quality Qms Qes/(Qms + Qes), and the greatest impedance
// Re + Res, in ohms.
func (l SpeakerLaw) Qts() (total, greatest float64) {
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
	spring := t.solver.assembly.reactances[first+1]
	return t.state[first].own, spring.size * t.state[first+1].own
}

// Held returns what the dynamic elements hold at the last solution, in the order
// added: a capacitor its voltage, an inductor its current.
func (s *Solver) Held() []float64 {
	held := make([]float64, len(s.assembly.reactances))
	for i, r := range s.assembly.reactances {
		held[i] = s.stateOf(r)
	}
	return held
}

func (s *Solver) stateOf(r reactance) float64 {
	if r.inductive {
		return s.value(r.branch, s.x, s.u)
	}
	return s.at(r.p) - s.at(r.q)
}

// at returns a variable, ground included, at the last solution.
func (s *Solver) at(variable int) float64 {
	if variable == grounded {
		return 0
	}
	return s.value(variable, s.x, s.u)
}

// Dynamic reports whether the circuit has elements with memory.
func (c *Circuit) Dynamic() bool { return len(c.assemble(atRest, 0).reactances) > 0 }

// Midband compiles the circuit with its dynamic elements holding what they hold
// at a solution of the circuit at rest: what a signal of the middle frequencies
// sees. The sources have the values of that solution.
func (s *Solver) Midband() *Solver {
	m := newSolver(s.assembly.circuit.assemble(midband, 0))
	copy(m.u, s.u[:len(s.assembly.circuit.sources)])
	for i, r := range m.assembly.reactances {
		m.u[r.source] = s.stateOf(s.assembly.reactances[i])
	}
	return m
}
