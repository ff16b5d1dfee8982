package network

import "math"

// watch follows one voltage closely enough to know it half-way through every step.
// Its methods do nothing on a nil watch.
type watch struct {
	in      Source  // whose value half-way the caller knows
	half    float64 // that value, for the next step
	out     Node
	row     reading
	inParts reading    // the same in the transient of the parts of a step
	values  [5]float64 // the watched voltage at the last steps, newest first
	middle  float64    // half-way through the last step
	scale   float64    // about the greatest size lately
}

// How far the watched voltage may miss what its past foretold, relative to its
// greatest size lately, before the step is split: half-way the interpolation is then
// wrong by about a tenth of it at a kink, -110 dB, and a thirtieth elsewhere.
const (
	roughWatch = 3e-5
	fading     = 1 - 1.0/4096 // of the greatest size, a step
)

// Watch has every step told half-way too: in is a source whose value half-way
// through the next step SetHalf gives, out a node whose voltage there Half returns.
// Where the voltage runs smoothly that is interpolated between steps, and where it
// does not, at a crossover's kink, the step is split and it is solved for. One step
// then does for two samples.
func (t *Transient) Watch(in Source, out Node) {
	w := &watch{in: in, half: t.solver.u[in], out: out}
	s := t.solver
	w.row = newReading(s.sys.combination(s.assembly.node(out), grounded), s.sys.kept+s.sys.driven)
	now := w.row.of(s.x, s.u)
	for i := range w.values {
		w.values[i] = now
	}
	w.middle, w.scale = now, math.Abs(now)
	t.watch = w
	t.known = 0
}

// SetHalf gives the watched source its value half-way through the next step.
func (t *Transient) SetHalf(value float64) { t.watch.half = value }

// Half returns the watched voltage half-way through the last step.
func (t *Transient) Half() float64 { return t.watch.middle }

// isRough compares the watched voltage with the polynomial through its last five
// values.
func (w *watch) isRough(t *Transient) bool {
	if w == nil {
		return false
	}
	if t.known < t.needed {
		return true
	}
	v := &w.values
	now := w.row.of(t.solver.x, t.solver.u)
	foretold := 5*(v[0]-v[3]) - 10*(v[1]-v[2]) + v[4]
	return math.Abs(now-foretold) > roughWatch*max(w.scale, math.Abs(now), leastWatch)
}

// leastWatch is the least size the watched voltage is taken for, in volts: what is
// wrong then is under a tenth of a microvolt.
const leastWatch = 0.01

// interpolate takes a whole step: half-way is on the polynomial through its end and
// the four values before.
func (w *watch) interpolate(t *Transient) {
	if w == nil {
		return
	}
	w.move(t)
	v := &w.values
	w.middle = (35*v[0] + 140*v[1] - 70*v[2] + 28*v[3] - 5*v[4]) / 128
}

// move takes the voltage at the end of a step.
func (w *watch) move(t *Transient) {
	if w == nil {
		return
	}
	copy(w.values[1:], w.values[:])
	w.values[0] = w.row.of(t.solver.x, t.solver.u)
	w.scale = max(w.scale*fading, math.Abs(w.values[0]))
}

// read takes the voltage half-way from the transient of the parts, which has its
// own equations.
func (w *watch) read(f *Transient) {
	if w != nil {
		w.middle = w.inParts.of(f.solver.x, f.solver.u)
	}
}

// prepare makes the reading for the transient of the parts.
func (w *watch) prepare(f *Transient) {
	if w != nil && w.inParts.active == nil {
		w.inParts = newReading(f.solver.sys.combination(f.solver.assembly.node(w.out), grounded), f.solver.sys.kept+f.solver.sys.driven)
	}
}

// ContinueFrom takes over the state of another transient of the same circuit, which
// may have another step. Its sources have the other's values.
func (t *Transient) ContinueFrom(o *Transient) {
	copy(t.state, o.state)
	copy(t.solver.x, o.solver.x)
	copy(t.solver.u[:len(t.last)], o.solver.u[:len(t.last)])
	copy(t.last, t.solver.u)
	copy(t.before, o.before)
	t.settle()
	t.recall()
	t.known = 0
}
