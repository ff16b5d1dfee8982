package network

// Meter takes the mean powers of a circuit in time, in joules since it was begun. It looks
// at the ends of every fourth step, 48000 times a second in a usual rendering: the
// powers of a band-limited signal add up to the same there as all the time.
//
// Like a step's outputs, what the devices make of the ports is read from a surface where the
// circuit has one: what all devices dissipate, what the supplies deliver into them, and
// the parts of output voltage and load current that follow from the unknowns; what
// the sources of memory add to these is linear. Devices with charges are solved for.
type Meter struct {
	Seconds float64
	Supply  float64 // from the supplies
	Load    float64 // into the load
	Devices float64 // into all devices

	supplies []Source
	steps    int
	rows     []int      // of the supplies, among the active variables
	linear   [3][]term  // of supply power, output and load current by sources that vary
	over     [2]reading // output and load current
	values   [meterOutputs]float64
	allowed  [meterOutputs]float64
	surface  *surface
	tried    bool
}

const (
	meterOutputs = 4 // devices, supplies, output, load current
	meterEvery   = 4 // steps
	meterLeft    = 1e-4
)

// Meter begins to take the powers of the circuit: of supplies, which drive nodes, and of the
// load that is behind a voltage source at the node out.
func (t *Transient) Meter(supplies []Source, out Node, load Source) *Meter {
	s := t.solver
	active := s.sys.kept + s.sys.driven
	m := &Meter{supplies: supplies}
	for _, supply := range supplies {
		for i, drive := range s.sys.drive {
			if drive == int(supply) {
				m.rows = append(m.rows, s.sys.kept+i)
			}
		}
	}
	m.over[0] = newReading(s.sys.combination(s.assembly.node(out), grounded), active)
	m.over[1] = newReading(s.sys.combination(grounded, s.assembly.branchOf[load]), active)
	t.meter = m
	return m
}

// end takes the powers at the end of a step.
func (m *Meter) end(t *Transient) {
	if m == nil {
		return
	}
	if m.steps++; m.steps%meterEvery != 0 {
		return
	}
	t.join()
	seconds := meterEvery * t.step
	m.Seconds += seconds
	if !m.read(t) {
		s := t.Solver()
		m.evaluate(s, m.values[:])
	}
	u := t.solver.u
	supply, volts, amperes := m.values[1], m.values[2], m.values[3]
	for i, sum := range [3]*float64{&supply, &volts, &amperes} {
		*sum += combination(m.linear[i], u)
	}
	m.Devices += seconds * m.values[0]
	m.Supply += seconds * supply
	m.Load += seconds * volts * amperes
}

// read reads the values from the surface, and reports whether it could.
func (m *Meter) read(t *Transient) bool {
	if t.surface == nil {
		return false
	}
	f := m.surface
	if f == nil {
		if m.tried {
			return false
		}
		m.tried = true
		for _, r := range t.solver.assembly.reactances {
			if r.inside {
				return false
			}
		}
		f = newSurfaceOf(t.surface.ports, meterOutputs, m.evaluate)
		m.surface = f
		m.divide(t.solver, f.vary)
	}
	z := f.at(t.solver.u)
	c := f.find(z)
	if c == nil {
		return false
	}
	if c.polynomials != nil {
		c.read(m.values[:], z)
		return true
	}
	m.allow(t)
	s := t.Solver()
	m.evaluate(s, m.values[:])
	t.worn = f.note(s, c, z, m.values[:], m.allowed[:]) || t.worn
	return true
}

// allow sets by how much the values may be wrong.
func (m *Meter) allow(t *Transient) {
	volts := max(t.watch.size, minimumWatch)
	for i := range m.allowed {
		m.allowed[i] = meterLeft * volts
	}
}

// divide leaves to linear what sources that vary add to the values, so that these are
// functions of the unknowns alone.
func (m *Meter) divide(s *Solver, vary []int) {
	width, active := s.sys.width(), s.sys.kept+s.sys.driven
	varies := make([]bool, s.sys.sources)
	for _, v := range vary {
		varies[v] = true
		sum := 0.0
		for i, row := range m.rows {
			sum -= s.u[m.supplies[i]] * s.sys.matrix[row*width+active+v]
		}
		if sum != 0 {
			m.linear[0] = append(m.linear[0], term{v, sum})
		}
	}
	for i := range m.over {
		var fixed []term
		for _, c := range m.over[i].source {
			if varies[c.at] {
				m.linear[i+1] = append(m.linear[i+1], c)
			} else {
				fixed = append(fixed, c)
			}
		}
		m.over[i].source = fixed
	}
}

// evaluate reads the values, less what is left to linear, from a solution.
func (m *Meter) evaluate(s *Solver, values []float64) {
	values[0], values[1] = 0, -combination(m.linear[0], s.u)
	for i := range s.assembly.devices {
		values[0] += s.Device(i).Dissipation
	}
	for i, row := range m.rows {
		values[1] += s.u[m.supplies[i]] * s.drivenCurrent(row)
	}
	for i := range m.over {
		values[i+2] = m.over[i].of(s.x, s.u)
	}
}
