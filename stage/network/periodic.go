package network

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Periodic finds the states of a circuit that repeat with a periodic signal, with
// all that its stores remember, by shooting: one period is integrated by a
// collocation method of high order on a mesh that follows the waveforms into their
// kinks, each step giving exactly how what the stores hold at its end depends on what
// they hold at its beginning. The product of these dependences over the period, less
// unity, tells what the stores must hold for the period to close (Newton's method; T.
// J. Aprille and T. N. Trick, Proc. IEEE 60(1):108, 1972). A circuit whose stores see
// linear loads takes a rough period to come near, and one exact one.
//
// A mesh in time was chosen over balancing harmonics because an unbiased crossover
// bends within a thousandth of a period: tens of thousands of equal samples would have
// to be solved for together where some hundreds of uneven ones do. The output is a
// polynomial over each step, whose Fourier integrals are taken exactly, so that no
// harmonic is aliased and any order can be asked for.
//
// A Periodic keeps its last solution as the start of the next. It is for one goroutine
// at a time.
type Periodic struct {
	solver      *Solver
	in          Source
	out         reading
	rule, euler *collocation
	ports       []port
	tolerance   float64   // of a result, relative to the output's swing
	rest        []float64 // what the stores hold at rest
	restX       []float64 // the active unknowns there
	restOut     float64   // and the output
	endX        []float64 // the active unknowns at the end of the last period
	held        []float64 // what the stores hold at the beginning of the period
	size        []float64 // maximum size of what each store holds
	swing       float64   // maximum distance of the output from rest
	last        Signal    // of the last solution; its period is 0 where there is none
	work        workspace
	spare       []*interval
}

// port is where a store lies in the active equations.
type port struct {
	at        int // active index of its current, and its equation
	inductive bool
	flux      bool // it holds the flux of a core
	size      float64
	own       reading // what it stores by
}

// Periodic prepares a circuit whose solver stands at a solution of it at rest.
// The signal comes from a source; out is the node whose voltage Lines reads.
func (s *Solver) Periodic(in Source, out Node) *Periodic {
	inner := newSolver(s.assembly.circuit.assemble(ported, 0))
	copy(inner.u, s.u[:len(s.assembly.circuit.sources)])
	p := &Periodic{
		solver: inner, in: in, tolerance: finely, rule: newCollocation(meshNodes), euler: newCollocation(1),
		out:  newReading(inner.sys.combination(inner.assembly.node(out), grounded), inner.sys.kept+inner.sys.driven),
		rest: s.Held(), restX: make([]float64, inner.sys.kept), restOut: s.Voltage(out),
	}
	own := readings(inner)
	for i, r := range inner.assembly.reactances {
		p.ports = append(p.ports, port{inner.sys.active[r.branch], r.inductive, r.flux != nil, r.size, own[i]})
	}
	for v, to := range inner.sys.active {
		if to >= 0 && to < inner.sys.kept {
			p.restX[to] = s.at(v)
		}
	}
	p.endX = slices.Clone(p.restX)
	p.size = make([]float64, len(p.ports))
	p.work.prepare(p)
	return p
}

// Tolerances of the search for a periodic state.
const (
	roughly  = 1e-4 // of a period that is to come near, relative to the output's swing
	finely   = 1e-7 // of the last one
	nearly   = 0.05 // what is missing changes the output by less than this, relative, before a period is taken finely
	linearly = 1e-6 // and by less than this when the rest of the change is taken linearly
	periods  = 24   // at most
	similar  = 4    // ratio of signals up to which a solution is near that of the other
)

// Signal is a periodic signal: its value in volts or amperes at a time in seconds.
type Signal struct {
	Start   float64 // s; the solution begins here, best where the signal is at a peak
	Period  float64 // s, > 0
	Peak    float64 // bound of its size, > 0
	Longest float64 // maximum step, s, > 0: a part of the period of its fastest component
	At      func(seconds float64) float64
}

// Restart forgets the last solution, as it must be where the next signal has another
// shape.
func (p *Periodic) Restart() { p.last = Signal{} }

// Solve finds the periodic state under a signal, from the last one in proportion to
// the signals where the period is the same. The error wraps ErrNoPoint.
func (p *Periodic) Solve(signal Signal) (*Cycle, error) {
	c, err := p.search(signal)
	if err != nil && p.last.Period != 0 {
		p.Restart() // the last solution was no start
		c, err = p.search(signal)
	}
	if err != nil {
		p.Restart()
		return nil, fmt.Errorf("%w: %w", ErrNoPoint, err)
	}
	p.last = signal
	return c, nil
}

var errOpen = errors.New("the period does not close")

// search is Solve from one start.
func (p *Periodic) search(signal Signal) (*Cycle, error) {
	tolerance := roughly
	if p.begin(signal) {
		tolerance = p.tolerance
	}
	c := &Cycle{periodic: p, signal: signal}
	for range periods {
		p.spare = append(p.spare, c.intervals...)
		c.intervals = c.intervals[:0]
		if err := p.march(c, tolerance); err != nil {
			return nil, err
		}
		change, ok := p.close(c)
		if !ok {
			return nil, errOpen
		}
		relative := c.effect(change) / p.swing
		if tolerance == p.tolerance && relative < linearly {
			c.correct(change)
			return c, nil
		}
		for i, d := range change {
			p.held[i] += d
		}
		if relative < nearly {
			tolerance = p.tolerance
		}
	}
	return nil, errOpen
}

// begin chooses what the stores hold at first: the last solution, in proportion to the
// signal, or the state at rest. It reports whether that is a good start.
func (p *Periodic) begin(signal Signal) bool {
	if p.last.Period != 0 && math.Abs(signal.Period/p.last.Period-1) < 1e-9 {
		part := signal.Peak / p.last.Peak
		for i, rest := range p.rest {
			p.held[i] = rest + part*(p.held[i]-rest)
			p.size[i] = max(math.Abs(rest), part*p.size[i], slightest*p.ports[i].expect(signal))
		}
		p.swing = max(part*p.swing, faintest*signal.Peak)
		return math.Max(part, 1/part) <= similar
	}
	p.held = append(p.held[:0], p.rest...)
	for i, rest := range p.rest {
		p.size[i] = max(math.Abs(rest), 1e-3*p.ports[i].expect(signal))
	}
	p.swing = signal.Peak
	return false
}

// expect is about what a store would hold with the whole signal across it.
func (p *port) expect(signal Signal) float64 {
	turn := signal.Period / (2 * math.Pi)
	switch {
	case p.flux:
		return signal.Peak * turn
	case p.inductive:
		return signal.Peak * turn / p.size
	}
	return signal.Peak
}

// close returns by how much the stores must differ at the beginning of the period for
// it to end as it began, and whether that can be told.
func (p *Periodic) close(c *Cycle) (change []float64, ok bool) {
	n := len(p.ports)
	if n == 0 {
		return nil, true
	}
	m := mat.NewDense(n, n, nil)
	for i := range n {
		m.Set(i, i, 1)
	}
	for _, iv := range c.intervals {
		var next mat.Dense
		next.Mul(mat.NewDense(n, n, iv.jump), m)
		m = &next
	}
	end := c.intervals[len(c.intervals)-1]
	miss := mat.NewVecDense(n, nil)
	for i := range n {
		miss.SetVec(i, end.own[(end.rule.count-1)*n+i]-p.held[i])
		for j := range n {
			m.Set(i, j, -m.At(i, j))
		}
		m.Set(i, i, m.At(i, i)+1)
	}
	var svd mat.SVD
	if !svd.Factorize(m, mat.SVDFull) {
		return nil, false
	}
	rank := 0
	for _, value := range svd.Values(nil) {
		if value > 1e-12 {
			rank++
		}
	}
	if rank == 0 {
		return make([]float64, n), true
	}
	var solved mat.VecDense
	svd.SolveVecTo(&solved, miss, rank)
	change = make([]float64, n)
	for i := range n {
		change[i] = solved.AtVec(i)
		if math.IsNaN(change[i]) {
			return nil, false
		}
	}
	return change, true
}
