package network

import "math"

// Of a solution in time only a few combinations of unknowns are looked at: what the
// stores hold, the watched voltage, and the voltages that control the devices. These are
// the outputs of a step, which comes by them from the surface of its ports where there
// is one, and else by iteration.

// control is a device's control voltage.
type control struct {
	device    operated
	variables [2]int // active ones, that it is between
	ends      [2]int // where these are among the quantities that are followed
}

// misses reports whether either voltage is further than most from where its past
// extrapolated.
func (c *control) misses(t *Transient, most float64) bool {
	p, q := c.ends[0], c.ends[1]
	return math.Abs(t.now[p]-t.next[p]) > most || math.Abs(t.now[q]-t.next[q]) > most
}

// conducts reports whether the device passes a hundredth of its maximum current so far or
// more; its law tells where it was not evaluated in the step.
func (c *control) conducts(t *Transient) bool {
	if !t.stale {
		_, _, conducts := c.device.control()
		return conducts
	}
	volts := t.now[c.ends[0]] - t.now[c.ends[1]]
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

// follow has a combination of active variables and sources followed from step to step, and
// returns its place among the quantities that are.
func (t *Transient) follow(row []float64) int {
	t.rows = append(t.rows, t.output(row))
	return len(t.rows) + len(t.stores) - 1 // behind what the stores hold and their duals
}

// widen makes room for what is followed since the last time, and takes it to have been
// for ever what it is at the unknowns.
func (t *Transient) widen() {
	old := t.followed
	t.followed = newPast(len(t.rows) + len(t.stores))
	t.now, t.next = make([]float64, t.followed.count), make([]float64, t.followed.count)
	t.look()
	t.readFollowed()
	t.followed.rest(t.now)
	for time := range remembered {
		copy(t.followed.at(time), old.at(time))
	}
}

// watchControls has the devices' control voltages followed. Diodes have none, and those of
// the bias are never far from a transistor's.
func (t *Transient) watchControls() {
	active := t.solver.sys.kept + t.solver.sys.driven
	t.controls = nil
	for _, d := range t.solver.assembly.devices {
		if _, is := d.(*diodeLoad); is {
			continue
		}
		c := control{device: d}
		p, q, _ := d.control()
		c.variables = [2]int{p, q}
		for i, at := range c.variables {
			row := make([]float64, t.solver.sys.width())
			if at < active {
				row[at] = 1
			}
			c.ends[i] = t.follow(row)
		}
		t.controls = append(t.controls, c)
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
	t.allowances++
	for i := range t.allowed {
		t.allowed[i] = math.Inf(1)
	}
	n := len(t.stores)
	for i, r := range t.rows {
		most := controlLeft * max(t.watch.scale, t.watch.input.scale)
		switch {
		case i < n:
			most = surfaceLeft * max(t.stores[i].scale, minimumScale)
		case i+n == t.watch.at:
			most = surfaceLeft * t.watch.scale
		}
		for _, c := range r.active {
			t.allowed[c.at] = min(t.allowed[c.at], max(most, leastLeft)/math.Abs(c.value))
		}
	}
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
	if c.servedAt != t.allowances {
		if !c.serves(t.allowed) {
			f.refine(c)
			return false
		}
		c.servedAt = t.allowances
	}
	c.read(t.seen, z)
	t.stale = true
	if t.doubt *= doubtFades; t.doubt < doubtGone {
		t.doubt = 0
	}
	t.stats.Read++
	return true
}

// solve comes by the outputs by iteration.
func (t *Transient) solve() bool {
	s := t.solver
	if !t.stale {
		t.unknowns.extrapolate(s.x, 0, t.unknowns.count)
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
