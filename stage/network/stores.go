package network

// An energy store is one branch with one equation, which depends on what is asked of the
// circuit: its rest, its midband, a step in time, or what its stores see.

// mode is how the dynamic elements, those that store energy, enter the equations.
type mode uint8

const (
	// atRest: capacitors are open and inductors are shorts.
	atRest mode = iota
	// midband: capacitors hold their voltages and inductors their currents, as they
	// do while a signal passes that is fast against them; parasitic ones are as at
	// rest, for the signal is slow against those.
	midband
	// inTime: each is a resistance with a source that remembers the last step, by the
	// trapezoidal rule.
	inTime
	// inShort: the same for the shortest steps, by Euler's backward rule, under which
	// nothing rings on after a jump.
	inShort
	// ported: each is left open: its current is an active variable, and the equation of
	// its branch reads the voltage across it.
	ported
)

// reactance is one energy store with its own branch: a capacitance in farads or
// an inductance in henries.
type reactance struct {
	branch    int // variable of its current
	p, q      int // variables of its voltage
	inductive bool
	parasitic bool
	inside    bool     // a device's own
	flux      *coreLaw // of a saturating core, whose flux this holds
	size      float64
	impedance float64 // 2C/h or 2L/h in time, half of that in short steps, 0 otherwise
	source    int     // column of its memory
}

// store adds an energy store between two variables. In every mode it is one
// branch equation with one memory:
//
//	capacitance: at rest i = 0; midband v = memory; in time i - (2C/h) v + memory = 0
//	inductance:  at rest v = 0; midband i = memory; in time v - (2L/h) i + memory = 0
//
// In time this is the trapezoidal rule, memory = (2C/h) v + i of the last step for
// a capacitance and (2L/h) i + v for an inductance; in short steps, with half of that
// impedance, Euler's backward rule, memory = (C/h) v and (L/h) i.
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
	case a.mode == ported:
		voltage, current = 1, 0
	case a.mode == inTime || a.mode == inShort:
		r.impedance = 2 * size / a.step
		if a.mode == inShort {
			r.impedance /= 2
		}
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
