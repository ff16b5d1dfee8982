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
		if f.trial.waits || !f.attempt(f.level == maximumDepth) {
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
	t.trial.after(calm || t.watch == nil || t.level > calmDown)
	t.count(f)
	t.parted = true
	return nil
}

// trial decides when a step is tried whole again after one that was split: at once where
// that one's parts ran calmly, but after a trial that failed, as it does again and again
// where something rings, only after twice as many split ones as the last time.
type trial struct {
	waits bool // the next step is split untried
	on    bool // else it is a trial
	left  int  // split steps before the next trial
	last  int  // how many there were before the last one
}

// mostSplit is the most steps that are split untried between two trials.
const mostSplit = 15

// after takes a step that was split, and whether its parts ran calmly.
func (r *trial) after(calm bool) {
	r.waits = !calm || r.left > 0
	if calm && r.left > 0 {
		r.left--
	}
	r.on = !r.waits
}

// failed takes a step that could not be taken whole.
func (r *trial) failed() {
	if r.on {
		r.last = min(2*r.last+1, mostSplit)
		r.left = r.last
	}
}

// count takes from the parts of a step what every next step needs: the stores' duals, the
// watched voltage, and what was counted. The stores of the step and of the parts go on without
// what rings from part to part. Where the last part was split itself, its own parts have
// taken that out already.
func (t *Transient) count(f *Transient) {
	n := len(t.stores)
	for i := range t.stores {
		s, part := &t.stores[i], &f.stores[i]
		if !f.parted {
			part.dual = f.followed.newest()[n+i] - f.followed.ringing(n+i)
		}
		s.dual, s.scale = part.dual, larger(s.scale, part.scale)
	}
	t.watch.join(f)
	t.moves++
	f.upTo = t.moves
	t.doubt = f.doubt
	t.stats.Iterations += f.stats.Iterations
	t.stats.Retried += f.stats.Retried
	t.stats.Read += f.stats.Read
	f.stats = Steps{}
}

// join takes over where the parts of the last step have led to, if it was split: a step that is
// split next goes on from its parts without that.
func (t *Transient) join() {
	if !t.parted {
		return
	}
	t.parted = false
	f := t.fine
	f.join()
	t.followed.allInSteps(&f.followed)
	t.take(f)
	for i, whole := range f.wholes {
		if whole >= 0 && !t.stale {
			t.unknowns.inSteps(whole, &f.unknowns, i)
		}
	}
	t.recall()
	t.worn = true
}

// latest returns what is followed at the end of the last step.
func (t *Transient) latest() []float64 {
	for t.parted {
		t = t.fine
	}
	return t.followed.newest()
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
	f.after, f.sharp, f.doubt, f.moving = t.after, t.sharp, t.doubt, t.moving
	copy(f.solver.u[:len(f.last)], t.solver.u)
	known := f.upTo == t.moves
	t.watch.finer(f)
	if known {
		f.allow()
		return f
	}
	f.moves++ // whatever its own parts knew is past
	f.parted, f.trial = false, trial{}
	for i := range f.now {
		f.followed.inParts(i, &t.followed, i)
	}
	for i := range f.stores {
		f.stores[i].dual, f.stores[i].scale = t.stores[i].dual, t.stores[i].scale
	}
	f.take(t)
	for i, whole := range f.wholes {
		if whole >= 0 && !f.stale {
			f.unknowns.inParts(i, &t.unknowns, whole)
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
	for _, i := range f.moving {
		from, to, before := whole.last[i], whole.solver.u[i], whole.before[i]
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
	places := make([]int, t.unknowns.count)
	for v, i := range t.solver.sys.active {
		if i >= 0 && i < len(places) {
			places[i] = o.solver.sys.active[v]
			if places[i] >= o.unknowns.count {
				places[i] = -1
			}
		}
	}
	return places
}
