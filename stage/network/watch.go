package network

import "math"

// Between is how many samples a watched transient tells inside every step; with its
// end a step makes one more.
const Between = 3

// watch follows one voltage closely enough to know it inside every step. Its methods
// do nothing on a nil watch.
type watch struct {
	in      Source           // whose values inside a step the caller knows
	given   [Between]float64 // those values, for the next step
	out     Node
	row     reading
	inParts reading          // the same in the transient of the parts of a step
	values  [5]float64       // the watched voltage at the last steps, newest first
	inside  [Between]float64 // inside the last step
	scale   float64          // about the greatest size lately
}

// How far the watched voltage may miss what its past foretold, relative to its
// greatest size lately, before the step is split: inside, the interpolation is then
// wrong by about a tenth of it at a kink, -110 dB, and a thirtieth elsewhere.
const (
	roughWatch = 3e-5
	fading     = 1 - 1.0/4096 // of the greatest size, a step
	// leastWatch is the least size the watched voltage is taken for, in volts: what
	// is wrong then is under a tenth of a microvolt.
	leastWatch = 0.01
)

// inward holds the weights with which a step's end and the four values before make
// each value inside, and onward those with which its beginning, the values inside
// and its end make the source at each part.
var (
	inward = weights([]float64{1, 0, -1, -2, -3}, insideTimes())
	onward = weights(append(append([]float64{0}, insideTimes()...), 1), partTimes())
)

// insideTimes are the times of the samples inside a step, in steps.
func insideTimes() []float64 {
	times := make([]float64, Between)
	for i := range times {
		times[i] = float64(i+1) / (Between + 1)
	}
	return times
}

// partTimes are the times of the ends of the parts of a step, from the one before
// its beginning.
func partTimes() []float64 {
	times := make([]float64, splitInto+2)
	for i := range times {
		times[i] = float64(i-1) / splitInto
	}
	return times
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

// Watch has every step told inside too: in is a source whose values inside the next
// step SetInside gives, out a node whose voltages there Inside returns, at evenly
// spaced times. Where the voltage runs smoothly they are interpolated between steps,
// and where it does not, as at a crossover's kink, the step is split and they are
// solved for. One step then does for Between+1 samples.
func (t *Transient) Watch(in Source, out Node) {
	w := &watch{in: in, out: out}
	s := t.solver
	w.row = newReading(s.sys.combination(s.assembly.node(out), grounded), s.sys.kept+s.sys.driven)
	now := w.row.of(s.x, s.u)
	for i := range w.values {
		w.values[i] = now
	}
	w.scale = math.Abs(now)
	t.watch = w
	t.known = 0
}

// SetInside gives the watched source its i-th value inside the next step.
func (t *Transient) SetInside(i int, value float64) { t.watch.given[i] = value }

// Inside returns the watched voltage at the i-th time inside the last step.
func (t *Transient) Inside(i int) float64 { return t.watch.inside[i] }

// source returns the watched source's value after some parts of a step, from -1 on.
func (w *watch) source(part int, from, to float64) float64 {
	c := onward[part+1]
	sum := c[0]*from + c[Between+1]*to
	for i, v := range w.given {
		sum += c[i+1] * v
	}
	return sum
}

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

// interpolate takes a whole step.
func (w *watch) interpolate(t *Transient) {
	if w == nil {
		return
	}
	w.move(t)
	for i, c := range inward {
		sum := 0.0
		for j, v := range w.values {
			sum += c[j] * v
		}
		w.inside[i] = sum
	}
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

// read takes the voltage after some parts of a step from the transient of the
// parts, which has its own equations.
func (w *watch) read(f *Transient, part int) {
	const each = splitInto / (Between + 1)
	if w != nil && part%each == 0 && part < splitInto {
		w.inside[part/each-1] = w.inParts.of(f.solver.x, f.solver.u)
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
	t.take(o)
	copy(t.solver.u[:len(t.last)], o.solver.u[:len(t.last)])
	copy(t.last, t.solver.u)
	copy(t.before, o.before)
	t.recall()
	t.known = 0
}
