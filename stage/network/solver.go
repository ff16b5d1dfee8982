package network

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrNoPoint is what every failure to find an operating point wraps.
var ErrNoPoint = errors.New("no operating point")

// Solver finds operating points of one compiled circuit. Each solution starts
// from the last, so that a sweep costs a few iterations a point. A Solver is for
// one goroutine at a time.
type Solver struct {
	assembly  *assembly
	sys       *system
	u         []float64 // values of the sources
	x         []float64 // active variables, then ground
	constant  []float64 // part of the kept equations that the sources fix
	step      []float64
	stamps    stamper
	jacobian  *matrix
	good      snapshot
	precise   *precise  // the iteration in twice the precision; nil until it is needed
	precisely bool      // it is in use
	factored  bool      // the Jacobian is, where x was last evaluated
	behind    bool      // the currents of driven nodes are those before the last Newton step
	moved     []float64 // scratch of predict: by source
	tangent   []float64 // scratch of Derivative: by active variable
	unit      []float64 // and by source
	scales    []float64 // maximum linear coefficient of each kept equation
	rows      []float64 // scratch of lost
	count     int
}

// snapshot is a solution: the active variables at these source values.
type snapshot struct {
	x, u    []float64
	precise bool // found in twice the precision
}

// Compile writes out the circuit's equations for direct current, capacitors open
// and inductors shorted, and reduces their linear part.
func (c *Circuit) Compile() *Solver { return newSolver(c.assemble(atRest, 0)) }

// Fork returns an independent solver of the same circuit with the same source
// values, for another goroutine.
func (s *Solver) Fork() *Solver {
	a := s.assembly
	other := newSolver(a.circuit.assemble(a.mode, a.step))
	copy(other.u, s.u)
	return other
}

func newSolver(a *assembly) *Solver {
	sys := a.eliminate()
	active := sys.kept + sys.driven
	s := &Solver{
		assembly: a, sys: sys,
		u:        make([]float64, sys.sources),
		x:        make([]float64, active+1),
		constant: make([]float64, sys.kept),
		step:     make([]float64, sys.kept),
		jacobian: newMatrix(sys.kept, active+1),
		tangent:  make([]float64, active+1),
		unit:     make([]float64, sys.sources),
		moved:    make([]float64, sys.sources),
		scales:   sys.scales(),
		rows:     make([]float64, sys.kept),
	}
	s.stamps = stamper{x: s.x, f: make([]float64, active+1), j: s.jacobian.a, stride: active + 1, leak: leakConductance}
	for i, src := range a.circuit.sources {
		s.u[i] = src.value
	}
	for _, l := range a.loads {
		l.bind(func(v int) int {
			if v == grounded {
				return active
			}
			return sys.active[v]
		})
	}
	return s
}

// Set gives a source a value in volts or amperes, for the next Solve.
func (s *Solver) Set(src Source, value float64) { s.u[src] = value }

// Value returns a source's value.
func (s *Solver) Value(src Source) float64 { return s.u[src] }

// Iterations returns the number of Newton iterations since compilation.
func (s *Solver) Iterations() int { return s.count }

// Limits of an iteration.
const (
	quickIterations = 50
	coldIterations  = 200
	closeVolts      = 1e-7 // one more iteration from here is exact to rounding
	runaway         = 1e9  // volts or amperes that no solution has
	strideLimit     = 1e3  // volts or amperes
)

// Solve finds the operating point at the present source values. When Newton's
// method from the last solution fails, it walks the sources there from the last
// solution, then starts cold, then raises all sources from zero, then relaxes
// added leakage across the junctions, then does all that in twice the precision, in which
// it also confirms a solution whose Jacobian rounding may have made, and last follows the
// curve of solutions round its folds. The error wraps ErrNoPoint.
func (s *Solver) Solve() error {
	for _, try := range []func() bool{s.warm, s.again, s.walk, s.cold, s.raise, s.relax, s.anew, s.follow} {
		if try() {
			s.confirm()
			s.good.x = append(s.good.x[:0], s.x...)
			s.good.u = append(s.good.u[:0], s.u...)
			s.good.precise = s.precisely
			s.precisely = false
			return nil
		}
	}
	reason := s.reason()
	s.Restart()
	return fmt.Errorf("%w: %s", ErrNoPoint, reason)
}

// Restart forgets the last solution.
func (s *Solver) Restart() {
	s.good = snapshot{}
	clear(s.x)
	s.resetLoads()
}

func (s *Solver) resetLoads() {
	for _, l := range s.assembly.loads {
		l.reset()
	}
}

// warm starts from where the last solution and its tangent lead.
func (s *Solver) warm() bool {
	s.predict()
	return s.newton(quickIterations)
}

// predict takes the step that Newton's method would take first from the last solution,
// with the Jacobian that was factored there.
func (s *Solver) predict() {
	if !s.factored || s.good.x == nil || s.good.precise || !slices.Equal(s.x, s.good.x) {
		return
	}
	k, stride := s.sys.kept, s.stamps.stride
	for i, from := range s.good.u {
		s.moved[i] = s.u[i] - from
	}
	for i := range s.step {
		s.step[i] = s.sys.fromSources(i, s.moved)
		for d, src := range s.sys.drive {
			s.step[i] += s.stamps.j[i*stride+k+d] * s.moved[src]
		}
	}
	s.jacobian.solve(s.step)
	if math.IsNaN(s.advance()) {
		copy(s.x, s.good.x)
	}
}

func (s *Solver) cold() bool {
	clear(s.x)
	s.resetLoads()
	return s.newton(coldIterations)
}

// walk moves the sources from the last solution's values to the present ones.
func (s *Solver) walk() bool {
	if s.good.x == nil {
		return false
	}
	copy(s.x, s.good.x)
	return s.homotopy(s.good.u)
}

// raise moves all sources from zero to the present values.
func (s *Solver) raise() bool {
	clear(s.x)
	s.resetLoads()
	return s.homotopy(make([]float64, len(s.u)))
}

// homotopy moves the sources from the given values to the present ones in steps
// that shrink on failure and grow on success, starting from x.
func (s *Solver) homotopy(from []float64) bool {
	target := slices.Clone(s.u)
	defer copy(s.u, target)
	settled := slices.Clone(s.x)
	done, step := 0.0, 0.1
	for done < 1 && step > 1e-5 {
		next := min(1, done+step)
		for i := range s.u {
			s.u[i] = from[i] + next*(target[i]-from[i])
		}
		if !s.newton(quickIterations) {
			copy(s.x, settled)
			step /= 4
			continue
		}
		copy(settled, s.x)
		done = next
		step *= 2
	}
	return done >= 1
}

// relax solves with a conductance across every junction, which holds the gain of every
// amplifier down too, and takes it away by a decade, or by less where that fails.
func (s *Solver) relax() bool {
	defer func() { s.stamps.leak = leakConductance }()
	clear(s.x)
	s.resetLoads()
	s.stamps.leak = 1
	if !s.newton(coldIterations) {
		return false
	}
	settled := slices.Clone(s.x)
	for done, factor := 1.0, 0.1; done > leakConductance; {
		s.stamps.leak = max(done*factor, leakConductance)
		if !s.newton(coldIterations) {
			copy(s.x, settled)
			if factor = math.Sqrt(factor); factor > slowestRelax {
				return false
			}
			continue
		}
		copy(settled, s.x)
		done, factor = s.stamps.leak, max(0.1, factor*factor)
	}
	return true
}

// slowestRelax is the factor of leakage beyond which relaxing is given up.
const slowestRelax = 0.99

// newton iterates from x. On success the Jacobian is factored at the solution.
func (s *Solver) newton(limit int) bool {
	s.fixConstants()
	if s.precisely {
		s.precise.begin(s)
	}
	near := false
	for range limit {
		s.count++
		worst, limited := s.iterate()
		if math.IsNaN(worst) {
			return false
		}
		small := !limited && worst < closeVolts
		if small && near {
			return true
		}
		near = small
	}
	return false
}

// iterate takes one Newton step and returns its maximum part, NaN if there is none.
func (s *Solver) iterate() (worst float64, limited bool) {
	if s.precisely {
		return s.precise.iterate(s)
	}
	limited = s.linearise()
	if s.jacobian.factor() >= 0 {
		return math.NaN(), limited
	}
	s.factored = true
	copy(s.step, s.stamps.f)
	s.jacobian.solve(s.step)
	return s.advance(), limited
}

// advance takes the Newton step, no part of it greater than strideLimit, and
// returns its maximum part; NaN if a voltage or current has run away.
func (s *Solver) advance() float64 {
	worst := 0.0
	x := s.x[:len(s.step)]
	for i, d := range s.step {
		size := math.Abs(d)
		if size > strideLimit {
			d = math.Copysign(strideLimit, d)
		}
		x[i] -= d
		worst = larger(worst, size)
		if !(math.Abs(x[i]) < runaway) {
			return math.NaN()
		}
	}
	return worst
}

// evaluate evaluates the equations at x, the devices without limit.
func (s *Solver) evaluate() {
	s.fixConstants()
	for range coldIterations {
		if !s.linearise() {
			return
		}
	}
}

// followDriven takes what devices draw from driven nodes, which the last evaluation left
// in the stamps, along the last Newton step, where that is still to be done.
func (s *Solver) followDriven() {
	if !s.behind {
		return
	}
	s.behind = false
	for i := s.sys.kept; i < s.sys.kept+s.sys.driven; i++ {
		row := s.stamps.j[i*s.stamps.stride:][:len(s.step)]
		for j, d := range s.step {
			s.stamps.f[i] -= row[j] * d
		}
	}
}

// fixConstants puts the sources into the driven variables and into the constant
// part of the equations.
func (s *Solver) fixConstants() {
	for i, src := range s.sys.drive {
		s.x[s.sys.kept+i] = s.u[src]
	}
	for i := range s.constant {
		s.constant[i] = s.sys.fromSources(i, s.u)
	}
}

// linearise evaluates the equations and their Jacobian at x.
func (s *Solver) linearise() (limited bool) {
	k, active, width := s.sys.kept, s.sys.kept+s.sys.driven, s.sys.width()
	f, stride := s.stamps.f, s.stamps.stride
	s.factored, s.behind = false, false
	for i := range k {
		copy(s.stamps.j[i*stride:], s.sys.matrix[i*width:i*width+active])
		f[i] = s.constant[i] + s.sys.fromActive(i, s.x)
	}
	clear(f[k:])
	clear(s.stamps.j[k*stride:])
	for _, l := range s.assembly.loads {
		if l.stamp(&s.stamps) {
			limited = true
		}
	}
	return limited
}

// reason says why no point was found, as far as the last iterate tells.
func (s *Solver) reason() string {
	s.fixConstants()
	s.linearise()
	if col := s.jacobian.factor(); col >= 0 {
		return s.describeActive(col) + " has no path for direct current"
	}
	copy(s.step, s.stamps.f)
	s.jacobian.solve(s.step)
	if math.IsNaN(s.advance()) {
		return "a voltage or current runs away; nothing in the circuit bounds it"
	}
	return "the iteration does not settle"
}

func (s *Solver) describeActive(col int) string {
	v := slices.Index(s.sys.active, col)
	return s.assembly.describe(v)
}
