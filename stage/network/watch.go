package network

import (
	"math"
)

// The watched voltage is delivered as mean and first moment over each sample of a step.
// Where it went as the quartic through its past extrapolated, both come from the
// polynomial through its last values by Gauss's rule; where it did not, the step is split,
// and they are joined from those of the parts.

// Samples is how many equal stretches a watched step is told in: the caller gives the
// source's value at the end of each, and reads the voltage over it.
const Samples = 4

// watch follows one voltage through a step and its parts, and what it is on the
// average in each. Its methods do nothing on a nil watch.
type watch struct {
	out    Node
	at     int     // among the quantities that are followed
	size   float64 // about the maximum size lately
	scale  float64 // that, or the minimum it is taken for
	silent bool    // it is less
	rough  float64 // miss from which a step is split, relative to scale
	missed float64 // by how much the voltage missed what was extrapolated, lately

	over   []stretch       // the last step; of a whole one that was not split, not asked for,
	values [fitted]float64 // but its values
	whole  bool            // it is such a one
	kept   float64         // share of the last step's last stretch in the sample at its end
	parts  []stretch       // the same of its parts, in a row
	input  *input          // of the whole step
}

// How far the watched voltage may miss what its past extrapolated, relative to its
// maximum size lately, before the step is split. In a whole step the polynomial
// that its stretches are taken from is then wrong by some hundredths of that. In a
// part it is a kink, and the mean over the part wrong by a third of it or less: what
// counts then is that mean times the part's length, so that parts may miss the more
// the shorter they are; roughPart holds for one as long as a sample.
const (
	roughWhole = 6e-5
	roughPart  = 8e-5
	fading     = 1 - 1.0/4096 // of the maximum size, a step
	// minimumWatch is the minimum size that source and voltage are taken for, in volts, and
	// minimumGain that of the voltage re the source: what a stage that passes less does is
	// of no interest.
	minimumWatch = 1e-6
	minimumGain  = 1e-2
	// leftOver is what an iteration may leave of the voltage, relative to its size:
	// -140 dB.
	leftOver = 1e-7
	// calm is the miss of all parts of a split step up to which the next one is tried whole
	// again, relative to the miss from which that would be split: that of a smooth voltage
	// falls with the fifth power of the length. Without it a kink just before a step bends
	// the extrapolation so that the step may end where it was extrapolated, by chance.
	calm = 1.0 / 300
	// calmDown is the lowest level that this is held to.
	calmDown = 2
)

// input is the watched source's values about one step.
type input struct {
	source Source
	values [Samples + 1]float64 // at its beginning and at the samples
	powers [Samples + 1]float64 // of the polynomial through them, by the sample
	before [fitted]float64      // at the ends of the last steps, the newest first
	scale  float64
}

// prepare makes ready for at: Newton's forward differences at the step's beginning, d,
// give the polynomial
//
//	v0 + d1 x + d2 x(x-1)/2 + d3 x(x-1)(x-2)/6 + d4 x(x-1)(x-2)(x-3)/24
func (in *input) prepare() {
	d := in.values
	for order := range Samples {
		for i := Samples; i > order; i-- {
			d[i] -= d[i-1]
		}
	}
	d2, d3, d4 := d[2]/2, d[3]/6, d[4]/24
	in.powers = [Samples + 1]float64{d[0], d[1] - d2 + 2*d3 - 6*d4, d2 - 3*d3 + 11*d4, d3 - 6*d4, d4}
}

// at returns the source x samples into the step, on the polynomial through all of them.
func (in *input) at(x float64) float64 {
	p := &in.powers
	return p[0] + x*(p[1]+x*(p[2]+x*(p[3]+x*p[4])))
}

// Watch has every step observed inside: in is a source whose values inside the next
// step SetInside gives, out a node whose voltage over each sample of the last step
// Over returns. Where the voltage runs smoothly it is interpolated between steps; where
// it does not, as at a crossover's kink, the step is split and the voltage solved for.
func (t *Transient) Watch(in Source, out Node) {
	w := newWatch(t, out)
	w.rough = roughWhole
	w.input = &input{source: in}
	for i := range w.input.values {
		w.input.values[i] = t.last[in]
	}
	for i := range w.input.before {
		w.input.before[i] = t.last[in]
	}
	w.kept = t.now[w.at] / 2
	t.watch = w
}

// newWatch makes the watch of a transient's voltage.
func newWatch(t *Transient, out Node) *watch {
	w := &watch{out: out, at: t.follow(t.solver.sys.combination(t.solver.assembly.node(out), grounded))}
	t.watchControls()
	t.widen()
	w.size = math.Abs(t.now[w.at])
	w.over = make([]stretch, stretchesAt(t.level))
	w.parts = make([]stretch, splitInto*stretchesAt(t.level+1))
	return w
}

// SetInside gives the watched source its value at the i-th sample of the next step, from
// 0; the last is what Set gives.
func (t *Transient) SetInside(i int, value float64) { t.watch.input.values[i+1] = value }

// Under gives the means of the watched voltage under a triangle two samples wide about the
// beginning of the last step and each sample in it but the last. It must be called once
// after every step.
func (t *Transient) Under(samples *[Samples]float64) {
	w := t.watch
	if !w.whole {
		for i, part := range w.over {
			samples[i] = w.kept + part.mean/2 - part.tilt
			w.kept = part.mean/2 + part.tilt
		}
		return
	}
	for i := range samples {
		samples[i] = dot5(&underWeights[i], &w.values)
	}
	samples[0] += w.kept
	w.kept = dot5(&underWeights[Samples], &w.values)
}

// begin takes the source's value at the end of the coming step, and reports whether
// that alone extrapolates a rough one.
func (w *watch) begin(t *Transient) (rough bool) {
	if w == nil {
		return false
	}
	in := w.input
	end := t.solver.u[in.source]
	in.values[Samples] = end
	in.scale = larger(larger(in.scale*fading, math.Abs(end)), minimumWatch)
	w.size = larger(w.size*fading, math.Abs(t.latest()[w.at]))
	floor := larger(in.scale*minimumGain, minimumWatch)
	w.silent, w.scale = w.size < floor, larger(w.size, floor)
	b := &in.before
	rough = math.Abs(end-(5*(b[0]-b[3])-10*(b[1]-b[2])+b[4])) > 3*roughWhole*in.scale
	*b = [fitted]float64{end, b[0], b[1], b[2], b[3]}
	t.allow()
	return rough
}

// larger is max for numbers alone: max also orders what is no number and the two zeros,
// and that shows in lines that every step comes by.
func larger(a, b float64) float64 {
	if a > b {
		return a
	}
	return b
}

// end makes the values of the last step those before the next one.
func (w *watch) end() {
	if w == nil {
		return
	}
	w.input.values[0] = w.input.values[Samples]
}

// isRough compares the voltage with what its past extrapolated, and the control voltages of
// the devices that conduct: where it happens to end a step where it was extrapolated though
// it has not gone there smoothly, the devices that handed over show it. A device that
// is off may ring from step to step about a leakage inductance, to no effect.
func (w *watch) isRough(t *Transient) bool {
	if w == nil {
		return false
	}
	now := t.now[w.at]
	most := w.rough*larger(w.scale, math.Abs(now)) + doubtful*t.doubt
	w.missed = math.Abs(now - t.next[w.at])
	if w.missed > most {
		return true
	}
	if w.silent {
		return false
	}
	most = larger(most, w.rough*w.input.scale)
	for i := range t.controls {
		if c := &t.controls[i]; c.misses(t, most) && c.conducts(t) {
			return true
		}
	}
	return false
}

// move takes the voltage over a step that was not split: as it went where it was
// extrapolated, it is the polynomial through its last values.
func (w *watch) move(t *Transient) {
	if w == nil {
		return
	}
	at := w.at
	for time := range w.values {
		w.values[time] = t.followed.values[at]
		at += t.followed.count
	}
	if w.whole = t.level == 0; w.whole {
		return
	}
	for i := range w.over {
		w.over[i] = smooth[t.level][i].of(&w.values)
	}
}

// finer makes or readies the watch of the parts.
func (w *watch) finer(f *Transient) {
	if w == nil {
		return
	}
	if f.watch == nil {
		f.watch = newWatch(f, w.out)
		f.watch.input = w.input
		f.watch.rough = roughPart / f.length
	}
	f.watch.scale, f.watch.silent = w.scale, w.silent
	if f.level == 1 {
		w.input.prepare()
	}
}

// note takes the voltage over one part.
func (w *watch) note(f *Transient, part int) {
	if w != nil {
		n := len(f.watch.over)
		copy(w.parts[(part-1)*n:], f.watch.over)
	}
}

// isCalm reports whether a part that was taken whole has missed next to nothing; what is
// silent has nothing to miss but rounding.
func (w *watch) isCalm(f *Transient) bool {
	return w != nil && (f.watch.silent || f.watch.missed <= calm*w.rough*w.scale+doubtful*f.doubt)
}

// join takes the voltage over a step from its parts.
func (w *watch) join(f *Transient) {
	if w == nil {
		return
	}
	w.whole = false
	group := len(w.parts) / len(w.over)
	for i := range w.over {
		w.over[i] = joined(w.parts[i*group : (i+1)*group])
	}
}

// lastStep returns how small a Newton step must be to be the last: what it leaves is
// then no more than leftOver of the voltage's size.
func (w *watch) lastStep() float64 {
	if w == nil {
		return stepVolts
	}
	return min(math.Sqrt(leftOver*w.scale/perVolt), 10*stepVolts)
}
