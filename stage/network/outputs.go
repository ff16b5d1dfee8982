package network

import "math"

// Of a solution in time only a few combinations of unknowns are looked at: what the
// stores hold, the watched voltage, and the voltages that control the devices. These are
// the outputs of a step, which comes by them from the surface of its ports where there
// is one, and else by iteration.

// control is a device's control voltage, between two active variables, and these on their
// own.
type control struct {
	device operated
	ends   [2]end
}

// end is a voltage, and its past.
type end struct {
	at    int // active variable
	row   reading
	now   float64
	trace history
}

// misses reports whether a voltage is further than most from where its past extrapolated.
func (e *end) misses(most float64) bool { return math.Abs(e.now-e.trace.extrapolate()) > most }

// misses reports whether either voltage does.
func (c *control) misses(most float64) bool { return c.ends[0].misses(most) || c.ends[1].misses(most) }

// conducts reports whether the device passes a hundredth of its maximum current so far or
// more; its law tells where it was not evaluated in the step.
func (c *control) conducts(unread bool) bool {
	if !unread {
		_, _, conducts := c.device.control()
		return conducts
	}
	volts := c.ends[0].now - c.ends[1].now
	switch d := c.device.(type) {
	case *bipolarLoad:
		i, _ := d.element.Law.Current(d.sign * volts)
		d.peak.follow(i)
		return d.peak.conducts()
	case *channelLoad:
		i, _, _ := d.element.Law.Current(d.sign*volts, channelOpen)
		d.peak.follow(i)
		return d.peak.conducts()
	}
	return true
}

// channelOpen is a drain-source voltage, in volts, at which a channel is not in its
// resistive region.
const channelOpen = 10

// output returns a combination of active variables and sources as one of outputs and
// sources, adding to the outputs where it is none of those there are.
func (t *Transient) output(row []float64) reading {
	s := t.solver.sys
	coefficients, is := combine(t.spans, row[:s.kept])
	if !is {
		t.spans = append(t.spans, row[:s.kept])
		t.outputs = append(t.outputs, newReading(row[:s.kept], s.kept).active)
		t.seen = append(t.seen, 0)
		t.allowed = append(t.allowed, 0)
		coefficients = append(make([]float64, len(t.spans)-1), 1)
	}
	fixed := append([]float64(nil), row[s.kept+s.driven:]...)
	for d, source := range s.drive {
		fixed[source] += row[s.kept+d]
	}
	return reading{active: newReading(coefficients, len(coefficients)).active, source: newReading(fixed, len(fixed)).active}
}

// watchControls has the devices' control voltages looked at. Diodes have none, and those of
// the bias are never far from a transistor's.
func (t *Transient) watchControls() {
	active := t.solver.sys.kept + t.solver.sys.driven
	t.controls = nil
	for _, d := range t.solver.assembly.devices {
		if _, is := d.(*diodeLoad); is {
			continue
		}
		c := control{device: d}
		c.ends[0].at, c.ends[1].at, _ = d.control()
		for i := range c.ends {
			row := make([]float64, t.solver.sys.width())
			if at := c.ends[i].at; at < active {
				row[at] = 1
			}
			c.ends[i].row = t.output(row)
		}
		t.controls = append(t.controls, c)
	}
	t.look()
	t.eachEnd(func(e *end) {
		e.now = e.row.of(t.seen, t.solver.u)
		e.trace = still(e.now)
	})
}

// eachEnd calls a function for every end of a control voltage.
func (t *Transient) eachEnd(f func(e *end)) {
	for i := range t.controls {
		f(&t.controls[i].ends[0])
		f(&t.controls[i].ends[1])
	}
}

// look evaluates the outputs at the unknowns.
func (t *Transient) look() {
	for i, row := range t.outputs {
		t.seen[i] = combination(row, t.solver.x)
	}
}

// allowanceSteps is how many steps an allowance holds, unless the watched voltage has become
// greater or smaller by a tenth.
const allowanceSteps = 256

// allow sets by how much each output may be wrong, so that the watched voltage and what the
// stores hold are as right as an iteration would leave them.
func (t *Transient) allow() {
	if t.watch == nil {
		return
	}
	ratio := t.watch.scale / t.allowedAt
	if t.allowedFor++; t.allowedFor < allowanceSteps && ratio > 0.9 && ratio < 1.1 {
		return
	}
	t.allowedAt, t.allowedFor = t.watch.scale, 0
	for i := range t.allowed {
		t.allowed[i] = math.Inf(1)
	}
	grant := func(r reading, most float64) {
		for _, c := range r.active {
			t.allowed[c.at] = min(t.allowed[c.at], most/math.Abs(c.value))
		}
	}
	for i, r := range t.rows {
		grant(r, surfaceLeft*max(t.state[i].scale, minimumScale))
	}
	grant(t.watch.row, surfaceLeft*t.watch.scale)
	t.eachEnd(func(e *end) { grant(e.row, controlLeft*max(t.watch.scale, t.watch.input.scale)) })
}

// readSurface comes by the outputs from the surface, and reports whether it could.
func (t *Transient) readSurface() bool {
	f := t.surface
	if f == nil || t.after != nil {
		return false
	}
	z := f.at(t.solver.u)
	c := f.find(z)
	if c == nil || c.polynomials == nil {
		return false
	}
	if !c.serves(t.allowed) {
		f.refine(c)
		return false
	}
	c.read(t.seen, z)
	t.stale = true
	t.doubt *= doubtFades
	t.stats.Read++
	return true
}

// solve comes by the outputs by iteration.
func (t *Transient) solve() bool {
	s := t.solver
	if !t.stale {
		for i := range t.histories {
			s.x[i] = t.histories[i].extrapolate()
		}
	}
	if !t.iterate() && !(t.stale && t.iterateAfresh()) {
		return false
	}
	if t.stale {
		t.settle()
		t.stale = false
	}
	t.worn = false
	t.look()
	switch {
	case t.watch == nil || t.after != nil:
	case t.surface != nil:
		z := t.surface.at(s.u)
		t.worn = t.surface.note(s, t.surface.find(z), z, t.seen, t.allowed)
	case !t.tried:
		t.tried = true
		t.allow()
		t.surface = newSurface(t, t.watch.input.source)
	}
	return true
}

// iterateAfresh finds the solution of the last step without a past.
func (t *Transient) iterateAfresh() bool {
	if t.stale && t.surface != nil && t.surface.last != nil && t.surface.last.near != nil {
		copy(t.solver.x, t.surface.last.near)
	} else {
		clear(t.solver.x)
	}
	t.solver.resetLoads()
	return t.iterate()
}
