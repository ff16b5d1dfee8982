package engine

// A ramp goes from one gain to the next in a straight line, so that no change is a
// step.
type ramp struct {
	value, target, step float64
	left                int
}

// newRamp stands at a value.
func newRamp(value float64) ramp { return ramp{value: value, target: value} }

// to goes to a target within frames from where the ramp is.
func (r *ramp) to(target float64, frames int) {
	if target == r.target {
		return
	}
	r.target, r.left = target, frames
	r.step = (target - r.value) / float64(frames)
}

// next returns the next value.
func (r *ramp) next() float64 {
	switch {
	case r.left > 1:
		r.left--
		r.value += r.step
	case r.left == 1:
		r.left, r.value = 0, r.target
	}
	return r.value
}

// still reports whether the ramp has arrived.
func (r *ramp) still() bool { return r.left == 0 }
