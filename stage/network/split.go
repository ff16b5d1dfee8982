package network

import (
	"fmt"
	"slices"
)

// split takes the step in parts.
func (t *Transient) split(depth int) error {
	if depth > greatestDepth {
		return fmt.Errorf("%w: a step of %.2g s does not settle", ErrNoPoint, t.step)
	}
	f := t.finer()
	for part := 1; part <= splitInto; part++ {
		f.toward(t, part)
		if !f.attempt(depth == greatestDepth) {
			f.toward(t, part-2)
			copy(f.before, f.solver.u)
			f.toward(t, part-1)
			copy(f.last, f.solver.u)
			f.toward(t, part)
			if err := f.split(depth + 1); err != nil {
				return err
			}
		}
		t.watch.read(f, part)
	}
	for i := range t.state {
		t.state[i].move(f.state[i].own, f.state[i].dual)
	}
	t.copyFrom(f)
	t.recall()
	t.watch.move(t)
	t.known++
	t.stats.Iterations += f.stats.Iterations
	f.stats = Steps{}
	return nil
}

// finer returns the transient of a part of a step, at the same state.
func (t *Transient) finer() *Transient {
	if t.fine == nil {
		a := t.solver.assembly.circuit.assemble(inTime, t.step/splitInto)
		t.fine = &Transient{solver: newSolver(a), step: t.step / splitInto, state: make([]store, len(t.state)), needed: 2, abrupt: abruptPart}
		t.fine.rows = readings(t.fine.solver)
		t.fine.last, t.fine.before = make([]float64, len(t.last)), make([]float64, len(t.last))
	}
	f := t.fine
	t.watch.prepare(f)
	f.after, f.known = t.after, min(t.known, 2)
	for i, s := range t.state {
		// The past in parts of a step, on the parabola through the past in steps.
		slope, bend := (s.own-s.past[1])/2, (s.own-2*s.past[0]+s.past[1])/2
		at := func(x float64) float64 { return s.past[0] + x*(slope+x*bend) }
		f.state[i] = s
		f.state[i].past[0], f.state[i].past[1] = at(1-1.0/splitInto), at(1-2.0/splitInto)
	}
	if !f.take(t) {
		return f
	}
	for i, last := range t.past[1] {
		// The way of the last step, in parts.
		slope := (t.solver.x[i] - last) / splitInto
		f.past[0][i], f.past[1][i] = f.solver.x[i]-slope, f.solver.x[i]-2*slope
	}
	return f
}

// toward sets the sources to what they are after some parts of the whole's step: on
// the parabola through its ends and the step before, which a signal far under the
// step rate follows much closer than a straight line.
func (f *Transient) toward(whole *Transient, part int) {
	x := float64(part) / splitInto
	for i, from := range whole.last {
		to, before := whole.solver.u[i], whole.before[i]
		f.solver.u[i] = from + x*(to-from) - x*(1-x)/2*(to-2*from+before)
	}
	if w := whole.watch; w != nil {
		f.solver.u[w.in] = w.source(part, whole.last[w.in], whole.solver.u[w.in])
	}
}

// take sets the variables to those of a transient of the same circuit, the past
// ones too, and reports as copyFrom does.
func (t *Transient) take(o *Transient) (same bool) {
	same = t.copyFrom(o)
	t.settle()
	return same
}

// copyFrom sets the variables to those of a transient of the same circuit, and
// reports whether both keep the same ones in the same order. They mostly do, but the
// pivots of the elimination are chosen by size and may differ with the step.
func (t *Transient) copyFrom(o *Transient) (same bool) {
	same = slices.Equal(t.solver.sys.active, o.solver.sys.active)
	if same {
		copy(t.solver.x, o.solver.x)
		return true
	}
	for v, to := range t.solver.sys.active {
		if to >= 0 {
			t.solver.x[to] = o.solver.at(v)
		}
	}
	return false
}
