package network

import (
	"fmt"
	"math"
)

// Transient moves a circuit through time in equal steps by the trapezoidal rule.
// Its linear part is reduced once, for the step, to the variables that nonlinear
// devices touch; a step iterates on those from the parabola through the last three
// solutions. It is for one goroutine at a time.
//
// The rule keeps energy: over a step, the power of every element taken from the
// means of its voltages and currents at the two ends adds up to nothing exactly,
// and what a store takes is the difference of its energy.
type Transient struct {
	solver *Solver
	step   float64
	past   [2][]float64 // active variables one and two steps before the last
	state  []store      // of the reactances
	rows   []reading    // how to read each from a solution
	last   []float64    // source values at the last step
	before []float64    // and at the one before
	fine   *Transient
	known  int     // steps that the past goes back
	needed int     // of them to foretell from
	abrupt float64 // miss from which a step is split
	after  func(s *Solver, seconds float64)
	watch  *watch
	stats  Steps
}

// store is the state of one reactance: volts and amperes.
type store struct {
	own   float64    // what it stores by: a capacitance its voltage, an inductance its current
	dual  float64    // the other one
	past  [4]float64 // own, one to four steps before
	scale float64    // greatest size of own so far
}

// Steps counts what a Transient has done.
type Steps struct {
	Taken      int64 // steps
	Iterations int64 // Newton iterations in them
	Refined    int64 // steps that were split because a store moved too abruptly
	Retried    int64 // steps that were split because they did not settle
}

const (
	stepIterations = 40
	stepVolts      = 5e-5 // a Newton step this small leaves its square over 2 kT/q, 50 nV
	splitInto      = 4
	greatestDepth  = 8
	// How far a store may miss what its past foretold, relative to its greatest size
	// so far, in a whole step and in its parts.
	abruptWhole = 1e-4
	abruptPart  = 4e-5
	// leastScale is what that size is taken for at least, in volts or amperes.
	leastScale = 0.01
)

// Transient starts the circuit at a solution of it at rest, for steps of the given
// number of seconds. It panics unless the step is positive and finite.
func (s *Solver) Transient(step float64) *Transient {
	if !(step > 0) || math.IsInf(step, 0) {
		panic("network: a transient needs a positive, finite step")
	}
	a := s.assembly.circuit.assemble(inTime, step)
	t := &Transient{solver: newSolver(a), step: step, state: make([]store, len(a.reactances)), needed: 4, abrupt: abruptWhole}
	t.rows = readings(t.solver)
	copy(t.solver.u, s.u[:len(a.circuit.sources)])
	for i, r := range s.assembly.reactances {
		t.state[i].own = s.stateOf(r)
	}
	t.recall()
	t.last = append(t.last, t.solver.u[:len(a.circuit.sources)]...)
	t.before = append(t.before, t.last...)
	for v, to := range t.solver.sys.active {
		if to >= 0 {
			t.solver.x[to] = s.at(v)
		}
	}
	t.settle()
	return t
}

// Set gives a source its value at the end of the next step.
func (t *Transient) Set(src Source, value float64) { t.solver.u[src] = value }

// Solver reads the circuit at the last step: voltages, currents and devices. It
// must not be solved.
func (t *Transient) Solver() *Solver { return t.solver }

// Steps returns the counts so far.
func (t *Transient) Steps() Steps { return t.stats }

// Stored returns the energy in all capacitances and inductances outside of
// devices, in joules.
func (t *Transient) Stored() float64 {
	sum := 0.0
	for i, r := range t.solver.assembly.reactances {
		if r.inside {
			continue
		}
		if r.flux != nil {
			sum += r.flux.energy(t.state[i].own)
			continue
		}
		sum += r.size * t.state[i].own * t.state[i].own / 2
	}
	return sum
}

// AfterEach has f called after every step, with each of its parts where it was
// split: with the solver that holds the solution and the part's length in seconds.
func (t *Transient) AfterEach(f func(s *Solver, seconds float64)) { t.after = f }

// Step moves on by one step. A step over which a store moves so abruptly that the
// rule's error shows, or which does not settle, is split, and its parts again. If
// a part fails at last the error wraps ErrNoPoint.
func (t *Transient) Step() error {
	t.stats.Taken++
	if !t.attempt(false) {
		if err := t.split(1); err != nil {
			return fmt.Errorf("after %d steps: %w", t.stats.Taken, err)
		}
	}
	copy(t.before, t.last)
	copy(t.last, t.solver.u)
	return nil
}

// settle makes the present solution the past one too: no extrapolation.
func (t *Transient) settle() {
	for i := range t.past {
		t.past[i] = append(t.past[i][:0], t.solver.x...)
	}
}

// remember puts the states into the memories of the equations.
func (t *Transient) remember() {
	for i := range t.state {
		r := &t.solver.assembly.reactances[i]
		t.solver.u[r.source] = r.impedance*t.state[i].own + t.state[i].dual
	}
}

// recall puts into the memories what a step that ends in the present states would
// have found there, so that eliminated variables can be read at them.
func (t *Transient) recall() {
	for i := range t.state {
		r := &t.solver.assembly.reactances[i]
		t.solver.u[r.source] = r.impedance*t.state[i].own - t.state[i].dual
	}
}

// attempt takes one step whole, and reports whether it may stand. An abrupt one may
// if it must.
func (t *Transient) attempt(must bool) bool {
	s := t.solver
	t.remember()
	last, older := t.past[0][:s.sys.kept], t.past[1][:s.sys.kept]
	for i, now := range s.x[:s.sys.kept] {
		s.x[i] = 3*(now-last[i]) + older[i]
		older[i] = now
	}
	t.past[0], t.past[1] = t.past[1], t.past[0]
	if !t.iterate() {
		t.stats.Retried++
		copy(s.x, t.past[0])
		return false
	}
	if !must && (t.isAbrupt() || t.watch.isRough(t)) {
		t.stats.Refined++
		copy(s.x, t.past[0])
		return false
	}
	for i := range t.state {
		r := &s.assembly.reactances[i]
		own := t.rows[i].of(s.x, s.u)
		t.state[i].move(own, r.impedance*own-s.u[r.source])
	}
	t.watch.interpolate(t)
	t.known++
	if t.after != nil {
		t.after(s, t.step)
	}
	return true
}

// move takes a store to the end of a step.
func (s *store) move(own, dual float64) {
	copy(s.past[1:], s.past[:])
	s.past[0] = s.own
	s.own, s.dual = own, dual
	s.scale = max(s.scale, math.Abs(own))
}

// isAbrupt compares every store with what its past foretold. In a whole step that
// is the polynomial through its last five values, which a smooth signal well under
// the step rate follows and a kink does not; in a part of a step, where any signal
// is smooth, the parabola through three, whose miss bounds the rule's own error.
func (t *Transient) isAbrupt() bool {
	if t.known < t.needed {
		return false
	}
	for i := range t.state {
		s := &t.state[i]
		p := &s.past
		own := t.rows[i].of(t.solver.x, t.solver.u)
		foretold := 3*(s.own-p[0]) + p[1]
		if t.needed > 2 {
			foretold = 5*(s.own-p[2]) - 10*(p[0]-p[1]) + p[3]
		}
		if math.Abs(own-foretold) > t.abrupt*max(s.scale, math.Abs(own), leastScale) {
			return true
		}
	}
	return false
}

// iterate is Newton's method for a step.
func (t *Transient) iterate() bool {
	s := t.solver
	s.fixConstants()
	for range stepIterations {
		t.stats.Iterations++
		limited := s.linearise()
		if s.jacobian.factor() >= 0 {
			return false
		}
		copy(s.step, s.stamps.f)
		s.jacobian.solve(s.step)
		worst := s.advance()
		if math.IsNaN(worst) {
			return false
		}
		if !limited && worst < stepVolts {
			return true
		}
	}
	return false
}
