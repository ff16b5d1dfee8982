package network

import (
	"fmt"
	"math"
)

// Transient moves a circuit through time in equal steps by the trapezoidal rule.
// Its linear part is reduced once, for the step, to the variables that nonlinear
// devices touch; a step iterates on those from the quartic through the last five
// solutions. It is for one goroutine at a time.
//
// A step over which a store, or a watched voltage, leaves the polynomial through its past
// is split into four parts, and these again. The shortest parts go by Euler's
// backward rule, so that nothing rings on after a jump. AfterEach tells of all steps for
// accounts of energy.
type Transient struct {
	solver     *Solver
	step       float64
	level      int         // how many times a whole step was split into this one
	begun      float64     // where it begins in the whole step, in samples
	length     float64     // how long it is, in samples
	unknowns   past        // the active ones
	stores     []store     // the reactances
	rows       []reading   // how to read what is followed, but the duals, from outputs and sources
	followed   past        // what the stores hold, their duals, and what else is looked at in every step
	now, next  []float64   // the same at the end of the step, and as their past extrapolates
	outputs    [][]term    // what is looked at of a solution, as combinations of unknowns
	spans      [][]float64 // the same with zeros
	seen       []float64   // values of the outputs at the end of the step
	allowed    []float64   // by how much each may be wrong
	allowedAt  float64     // the watched voltage's scale for which that was set
	allowedFor int         // steps ago
	allowances int         // how many times it was set
	controls   []control
	surface    *surface  // nil where there is none, or not yet
	tried      bool      // whether it was tried to make one
	stale      bool      // the unknowns are not those of the last solution, for that was read from the surface
	worn       bool      // the solver has been elsewhere
	last       []float64 // source values at the last step
	before     []float64 // and at the one before
	moving     []int     // sources that did not hold since then, but the watched one
	fine       *Transient
	wholes     []int   // where the whole's unknowns have these, in the transient of parts; -1: nowhere
	trial      trial   // when the next step is tried whole
	doubt      float64 // by how much the last solutions may be wrong, V or A
	sharp      bool
	moves      int       // steps so far
	upTo       int       // moves of the whole that this has led to, in the transient of parts
	parted     bool      // the last step was split, and is not joined
	after      *accounts // nil where nobody asks
	watch      *watch
	meter      *Meter
	stats      Steps
}

// store is the state of one reactance, whose voltage and current are followed: a capacitance
// stores by its voltage, an inductance by its current, and the other one is its dual.
type store struct {
	*reactance
	dual  float64 // what the next step goes on from: the dual's newest value, less what rings in it
	scale float64 // maximum size of what it stores by, so far
}

// Steps counts what a Transient has done.
type Steps struct {
	Taken      int64 // steps
	Iterations int64 // Newton iterations in them
	Refined    int64 // steps that were split because a store or the watched voltage moved too abruptly
	Retried    int64 // steps, and parts of them, that were split because they did not settle
	Read       int64 // steps, and parts of them, that were read from the surface instead of solved
}

const (
	stepIterations = 40
	stepVolts      = 5e-5  // a Newton step this small is the last, where nothing is watched
	perVolt        = 20    // the square of the last step times this, over 2 kT/q, is what it leaves
	doubtFades     = 0.8   // a step
	doubtGone      = 1e-30 // what doubt counts as none: denormal numbers are slow
	doubtful       = 32    // times what is left of a history's values, what it extrapolates may be out by
	splitInto      = 4
	maximumDepth   = 8
	shortLevel     = 4 // the backward rule holds from here on
	// How far a store may miss what its past extrapolated, relative to its maximum size
	// so far, in a whole step and in its parts.
	abruptWhole = 1e-4
	abruptPart  = 4e-4
	// minimumScale is what that size is taken for at least, in volts or amperes.
	minimumScale = 1e-7
)

// Transient starts the circuit at a solution of it at rest, for steps of the given
// number of seconds. It panics unless the step is positive and finite.
func (s *Solver) Transient(step float64) *Transient {
	if !(step > 0) || math.IsInf(step, 0) {
		panic("network: a transient needs a positive, finite step")
	}
	t := newTransient(s.assembly.circuit, step, 0)
	copy(t.solver.u, s.u[:len(t.last)])
	copy(t.last, s.u)
	copy(t.before, s.u)
	for i, r := range s.assembly.reactances {
		t.now[i] = s.stateOf(r)
	}
	t.followed.rest(t.now)
	t.recall()
	for v, to := range t.solver.sys.active {
		if to >= 0 {
			t.solver.x[to] = s.at(v)
		}
	}
	t.solver.evaluate()
	t.settle()
	return t
}

// newTransient makes a transient of a circuit whose state is not set.
func newTransient(c *Circuit, step float64, level int) *Transient {
	rule := inTime
	if level >= shortLevel {
		rule = inShort
	}
	a := c.assemble(rule, step)
	t := &Transient{
		solver: newSolver(a), step: step, level: level, length: Samples * math.Pow(splitInto, -float64(level)), upTo: -1, stores: make([]store, len(a.reactances)),
		last: make([]float64, len(c.sources)), before: make([]float64, len(c.sources)),
	}
	for i := range t.stores {
		t.stores[i].reactance = &a.reactances[i]
	}
	t.unknowns = newPast(t.solver.sys.kept)
	for _, row := range t.solver.storeRows() {
		t.rows = append(t.rows, t.output(row))
	}
	t.followed = newPast(2 * len(t.stores))
	t.now, t.next = make([]float64, t.followed.count), make([]float64, t.followed.count)
	return t
}

// Set gives a source its value at the end of the next step.
func (t *Transient) Set(src Source, value float64) { t.solver.u[src] = value }

// Solver reads the circuit at the last step: voltages, currents and devices. It
// must not be solved.
func (t *Transient) Solver() *Solver {
	t.join()
	switch {
	case t.stale && t.iterateAfresh():
		t.settle()
		t.stale = false
	case t.worn:
		t.iterate()
	}
	t.worn = false
	return t.solver
}

// Steps returns the counts so far.
func (t *Transient) Steps() Steps { return t.stats }

// Stored returns the energy in all capacitances and inductances outside of
// devices, in joules.
func (t *Transient) Stored() float64 {
	sum, held := 0.0, t.latest()
	for i, r := range t.solver.assembly.reactances {
		if r.inside {
			continue
		}
		sum += r.energy(held[i])
	}
	return sum
}

// Step moves on by one step. A step over which a store or the watched voltage moves
// abruptly, or which does not settle, is split, and its parts again. If a part fails at
// last the error wraps ErrNoPoint.
func (t *Transient) Step() error {
	t.stats.Taken++
	t.findMoving()
	rough := t.watch.begin(t)
	if rough {
		t.stats.Refined++
	}
	if rough || t.trial.waits || !t.attempt(false) {
		if err := t.split(); err != nil {
			return fmt.Errorf("after %d steps: %w", t.stats.Taken, err)
		}
	}
	copy(t.before, t.last)
	copy(t.last, t.solver.u)
	t.watch.end()
	t.meter.end(t)
	return nil
}

// findMoving notes the sources that a split has to follow.
func (t *Transient) findMoving() {
	t.moving = t.moving[:0]
	for i, from := range t.last {
		held := t.solver.u[i] == from && from == t.before[i]
		if !held && (t.watch == nil || i != int(t.watch.input.source)) {
			t.moving = append(t.moving, i)
		}
	}
}

// settle makes the present solution the past one too: no extrapolation.
func (t *Transient) settle() {
	t.unknowns.rest(t.solver.x[:t.unknowns.count])
}

// remember puts the states into the memories of the equations.
func (t *Transient) remember() {
	held := t.followed.newest()
	for i := range t.stores {
		s := &t.stores[i]
		own, dual := held[i], s.dual
		switch {
		case t.level >= shortLevel:
			dual = 0
		case t.sharp:
			own += t.followed.bend(i)
		}
		t.solver.u[s.source] = s.impedance*own + dual
	}
}

// recall puts into the memories what a step that ends in the present states would
// have found there, so that eliminated variables can be read at them.
func (t *Transient) recall() {
	held, n := t.followed.newest(), len(t.stores)
	for i := range t.stores {
		s := &t.stores[i]
		t.solver.u[s.source] = s.impedance*held[i] - held[n+i]
	}
}

// attempt takes one step whole, and reports whether it may stand. A rough one may if
// it must.
func (t *Transient) attempt(must bool) bool {
	s := t.solver
	t.join()
	t.remember()
	if !t.readSurface() && !t.solve() {
		t.stats.Retried++
		t.restore()
		return false
	}
	t.readFollowed()
	t.followed.extrapolate(t.next, 0, len(t.stores)) // nobody asks for the duals
	t.followed.extrapolate(t.next, 2*len(t.stores), t.followed.count)
	if !must && (t.isAbrupt() || t.watch.isRough(t)) {
		t.stats.Refined++
		t.trial.failed()
		t.restore()
		return false
	}
	t.trial = trial{}
	if !t.stale {
		t.unknowns.push(s.x[:t.unknowns.count])
	}
	t.after.take(t)
	t.moveStores()
	t.followed.push(t.now)
	t.watch.move(t)
	t.moves++
	return true
}

// restore goes back to the solution at the beginning of the step.
func (t *Transient) restore() {
	if t.stale {
		return
	}
	copy(t.solver.x, t.unknowns.newest())
}

// moveStores takes the stores to the end of a step.
func (t *Transient) moveStores() {
	n := len(t.stores)
	for i := range t.stores {
		s := &t.stores[i]
		s.dual = t.now[n+i]
		s.scale = larger(s.scale, math.Abs(t.now[i]))
	}
}

// readFollowed reads what is followed at the end of the step.
func (t *Transient) readFollowed() {
	n, u := len(t.stores), t.solver.u
	for i := range t.stores {
		s := &t.stores[i]
		own := t.rows[i].of(t.seen, u)
		t.now[i], t.now[n+i] = own, s.impedance*own-u[s.source]
	}
	for i := n; i < len(t.rows); i++ {
		t.now[n+i] = t.rows[i].of(t.seen, u)
	}
}

// isAbrupt compares every store with what its past extrapolated, which a smooth signal
// well under the step rate follows and a kink does not.
func (t *Transient) isAbrupt() bool {
	abrupt := abruptWhole
	if t.level > 0 {
		abrupt = abruptPart
	}
	for i := range t.stores {
		own := t.now[i]
		if math.Abs(own-t.next[i]) > abrupt*larger(larger(t.stores[i].scale, math.Abs(own)), minimumScale)+doubtful*t.doubt {
			return true
		}
	}
	return false
}

// iterate is Newton's method for a step.
func (t *Transient) iterate() bool {
	s := t.solver
	s.fixConstants()
	last := t.watch.lastStep()
	for range stepIterations {
		t.stats.Iterations++
		limited := s.linearise()
		copy(s.step, s.stamps.f)
		if s.jacobian.solveOnce(s.step) >= 0 {
			return false
		}
		worst := s.advance()
		if math.IsNaN(worst) {
			return false
		}
		if !limited && worst < last {
			t.doubt = max(worst*worst*perVolt, t.doubt*doubtFades)
			s.behind = true
			return true
		}
	}
	return false
}
