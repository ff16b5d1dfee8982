package network

import (
	"fmt"
	"slices"
)

// A step that a kink falls into is taken in four parts by a transient of its own, which
// keeps its own past from part to part, and splits in turn. The sources within are on the
// polynomial through what was given; histories are taken to the spacing of the parts on
// the quartic through them, and back on the parabola through their last three values, so
// that nothing before the kink is extrapolated beyond it.

// split takes the step in parts.
func (t *Transient) split() error {
	if t.level == maximumDepth {
		return fmt.Errorf("%w: a step of %.2g s does not settle", ErrNoPoint, t.step)
	}
	f := t.finer()
	calm := true
	for part := 1; part <= splitInto; part++ {
		f.begun = t.begun + float64(part-1)*f.length
		f.toward(t, part)
		if f.unsure || !f.attempt(f.level == maximumDepth) {
			calm = false
			f.toward(t, part-2)
			copy(f.before, f.solver.u)
			f.toward(t, part-1)
			copy(f.last, f.solver.u)
			f.toward(t, part)
			if err := f.split(); err != nil {
				return err
			}
		}
		t.watch.note(f, part)
		calm = calm && t.watch.isCalm(f)
	}
	t.unsure = !calm && t.watch != nil && t.level <= calmDown
	t.join(f)
	return nil
}

// join takes over where the parts of a step have led to.
func (t *Transient) join(f *Transient) {
	for i := range t.state {
		t.state[i].join(&f.state[i])
	}
	t.take(f)
	for i, whole := range f.wholes {
		if whole >= 0 && !t.stale {
			t.histories[whole] = f.histories[i].inSteps()
		}
	}
	for i := range t.controls {
		for j := range t.controls[i].ends {
			t.controls[i].ends[j].trace = f.controls[i].ends[j].trace.inSteps()
		}
	}
	t.recall()
	t.worn = true
	t.watch.join(f)
	t.moves++
	f.upTo = t.moves
	t.doubt = f.doubt
	t.rule += f.rule
	f.rule = 0
	t.stats.Iterations += f.stats.Iterations
	t.stats.Retried += f.stats.Retried
	t.stats.Read += f.stats.Read
	f.stats = Steps{}
}

// join takes a store to where the parts of a step have led it. Both go on without what
// rings from part to part.
func (s *store) join(parts *store) {
	parts.dual = parts.duals[0] - parts.duals.ringing()
	*s = store{
		history: parts.history.inSteps(), duals: parts.duals.inSteps(), dual: parts.dual,
		scale: max(s.scale, parts.scale),
	}
}

// finer returns the transient of the parts of a step, at the same state. Where the
// last step was split too it has its own past, and else that of the whole steps.
func (t *Transient) finer() *Transient {
	f := t.fine
	if f == nil {
		f = newTransient(t.solver.assembly.circuit, t.step/splitInto, t.level+1)
		f.wholes = f.unknownsOf(t)
		t.fine = f
	}
	f.after, f.sharp, f.doubt = t.after, t.sharp, t.doubt
	known := f.upTo == t.moves
	f.unsure = f.unsure && known
	t.watch.finer(f, known)
	if known {
		f.allow()
		return f
	}
	f.moves++ // whatever its own parts knew is past
	for i, s := range t.state {
		f.state[i] = s
		f.state[i].history = s.history.inParts()
		f.state[i].duals = s.duals.inParts()
	}
	f.take(t)
	for i, whole := range f.wholes {
		if whole >= 0 && !f.stale {
			f.histories[i] = t.histories[whole].inParts()
		}
	}
	for i := range t.controls {
		for j := range t.controls[i].ends {
			f.controls[i].ends[j].trace = t.controls[i].ends[j].trace.inParts()
		}
	}
	f.allow()
	return f
}

// toward sets the sources to what they are after some parts of the whole's step: on
// the parabola through its ends and the step before, which a signal far under the
// step rate follows much closer than a straight line, or as given.
func (f *Transient) toward(whole *Transient, part int) {
	x := float64(part) / splitInto
	for i, from := range whole.last {
		to, before := whole.solver.u[i], whole.before[i]
		f.solver.u[i] = from + x*(to-from) - x*(1-x)/2*(to-2*from+before)
	}
	if w := whole.watch; w != nil {
		f.solver.u[w.input.source] = w.input.at(whole.begun + float64(part)*f.length)
	}
}

// take goes on from another transient of the same circuit, without a past.
func (t *Transient) take(o *Transient) {
	t.stale = o.stale
	t.worn = o.worn
	t.copyFrom(o)
	if !t.stale {
		t.settle()
	}
}

// copyFrom sets the variables to those of a transient of the same circuit.
func (t *Transient) copyFrom(o *Transient) {
	if slices.Equal(t.solver.sys.active, o.solver.sys.active) {
		copy(t.solver.x, o.solver.x)
		return
	}
	for v, to := range t.solver.sys.active {
		if to >= 0 {
			t.solver.x[to] = o.solver.at(v)
		}
	}
}

// unknownsOf returns where the unknowns of another transient of the same circuit have
// those of this one, -1 where they are none there. Both mostly keep the same ones, but
// the pivots of the elimination are chosen by size, and they and the order may differ
// with the step.
func (t *Transient) unknownsOf(o *Transient) []int {
	places := make([]int, len(t.histories))
	for v, i := range t.solver.sys.active {
		if i >= 0 && i < len(places) {
			places[i] = o.solver.sys.active[v]
			if places[i] >= len(o.histories) {
				places[i] = -1
			}
		}
	}
	return places
}

// remembered is how many values a history goes back.
const remembered = 5

// history is the values of one quantity at the last evenly spaced times, the newest
// first. What comes next is extrapolated from the polynomial through them.
type history [remembered]float64

// still returns the history of a quantity that has not moved.
func still(value float64) history {
	var t history
	for i := range t {
		t[i] = value
	}
	return t
}

// push takes the next value.
func (t *history) push(value float64) {
	t[4], t[3], t[2], t[1], t[0] = t[3], t[2], t[1], t[0], value
}

// extrapolate returns the next value of the quartic through the history.
func (t *history) extrapolate() float64 { return 5*(t[0]-t[3]) - 10*(t[1]-t[2]) + t[4] }

// inParts returns the history with the spacing of the parts of a step, on the quartic
// through it.
func (t *history) inParts() history {
	out := history{t[0]}
	for i := range partsBack {
		out[i+1] = dot(partsBack[i][:], t[:])
	}
	return out
}

// ringing returns by how much the newest value is off a parabola on which every other
// value is off by as much to the other side: a store's voltage may ring so from step to
// step under the trapezoidal rule, about devices that were turned off.
func (t *history) ringing() float64 { return (t[0] - t[3] - 3*(t[1]-t[2])) / 8 }

// inSteps takes a history with the spacing of parts to that of whole steps, on the
// parabola through its last three values alone: a kink before them is forgotten.
func (t *history) inSteps() history {
	out := history{t[0]}
	for i := range stepsBack {
		out[i+1] = dot(stepsBack[i][:], t[:3])
	}
	return out
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

// partsBack and stepsBack hold the weights with which values at the last steps make
// those at the last parts, and the other way round.
var (
	partsBack = weights(times(0, -1, remembered), times(-1.0/splitInto, -1.0/splitInto, remembered-1))
	stepsBack = weights(times(0, -1.0/splitInto, 3), times(-1, -1, remembered-1))
)

// times returns count times, evenly spaced.
func times(first, spacing float64, count int) []float64 {
	list := make([]float64, count)
	for i := range list {
		list[i] = first + float64(i)*spacing
	}
	return list
}

// weights returns, for each time, the weights of values at the nodes in the
// polynomial through them (Lagrange).
func weights(nodes, times []float64) [][]float64 {
	all := make([][]float64, len(times))
	for i, x := range times {
		all[i] = make([]float64, len(nodes))
		for j, at := range nodes {
			all[i][j] = 1
			for k, other := range nodes {
				if k != j {
					all[i][j] *= (x - other) / (at - other)
				}
			}
		}
	}
	return all
}
