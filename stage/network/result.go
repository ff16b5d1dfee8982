package network

// A solution holds the active variables. What was eliminated is read from it as a linear
// combination; derivatives by a source are one solution of the factored Jacobian away;
// devices are read by their own laws.

// Voltage returns a node's voltage against ground at the last solution.
func (s *Solver) Voltage(n Node) float64 {
	if n == Ground {
		return 0
	}
	return s.value(s.assembly.node(n), s.x, s.u)
}

// value returns a variable from the active variables and sources given.
func (s *Solver) value(variable int, active, sources []float64) float64 {
	if i := s.sys.active[variable]; i >= 0 {
		return active[i]
	}
	return s.sys.recover[variable].of(active, sources)
}

// Current returns the current that a source delivers at the last solution, in
// amperes: out of a driven node into the circuit, out of a voltage source's
// plus terminal, or a current source's own value.
func (s *Solver) Current(src Source) float64 {
	if b, ok := s.assembly.branchOf[src]; ok {
		return -s.value(b, s.x, s.u)
	}
	for i, drive := range s.sys.drive {
		if drive == int(src) {
			return s.drivenCurrent(s.sys.kept + i)
		}
	}
	return s.u[src]
}

// drivenCurrent sums the currents that leave a driven node, an active row.
func (s *Solver) drivenCurrent(row int) float64 {
	s.followDriven()
	return s.stamps.f[row] + s.sys.fromActive(row, s.x) + s.sys.fromSources(row, s.u)
}

// Derivative returns dV(n)/d(src) at the last solution, exact to rounding: the
// incremental gain from a voltage source, the resistance seen by a current
// source.
func (s *Solver) Derivative(n Node, src Source) float64 {
	if n == Ground {
		return 0
	}
	unit := s.tangentBy(src)
	return s.value(s.assembly.node(n), s.tangent, unit)
}

// tangentBy puts the derivatives of the active variables by a source into
// s.tangent, and returns those of the sources. The Jacobian must be factored.
func (s *Solver) tangentBy(src Source) (unit []float64) {
	k, active, width := s.sys.kept, s.sys.kept+s.sys.driven, s.sys.width()
	clear(s.tangent)
	b := s.tangent[:k]
	for i := range b {
		b[i] = -s.sys.matrix[i*width+active+int(src)]
	}
	for d, drive := range s.sys.drive {
		if drive != int(src) {
			continue
		}
		s.tangent[k+d] = 1
		for i := range b {
			b[i] -= s.stamps.j[i*s.stamps.stride+k+d]
		}
	}
	s.jacobian.solve(b)
	clear(s.unit)
	s.unit[src] = 1
	return s.unit
}

// Conductances returns every resistance outside of devices, in siemens, in a fixed
// order: resistors, windings and voice coils.
func (s *Solver) Conductances() []float64 {
	list := make([]float64, len(s.assembly.losses))
	for i, l := range s.assembly.losses {
		list[i] = l.siemens
	}
	return list
}

// Across returns the voltage across each of the Conductances at the last solution.
func (s *Solver) Across() []float64 {
	list := make([]float64, len(s.assembly.losses))
	for i, l := range s.assembly.losses {
		list[i] = s.at(l.p) - s.at(l.q)
	}
	return list
}

// Kind tells what a device is, and so what its voltages are called.
type Kind string

// The kinds of devices.
const (
	DiodeDevice       Kind = "diode"
	BipolarDevice     Kind = "bipolar"
	FieldEffectDevice Kind = "field-effect"
)

// Terms returns the trade's names of an Operation's Current, ControlCurrent,
// Control and Main for this kind of device; a diode has no control.
func (k Kind) Terms() (current, controlCurrent, control, main string) {
	switch k {
	case DiodeDevice:
		return "ID", "", "", "VD"
	case FieldEffectDevice:
		return "ID", "IG", "VGS", "VDS"
	}
	return "IC", "IB", "VBE", "VCE"
}

// Operation is the state of one device at a solution. For a transistor Control
// is its base-emitter or gate-source voltage and Main its collector-emitter or
// drain-source voltage, positive when conducting in either polarity, and
// ControlCurrent the base or gate current; a diode has its forward voltage in
// Main alone.
type Operation struct {
	Name           string
	Kind           Kind
	Current        float64 // collector, drain or forward current, A
	ControlCurrent float64 // A
	Control        float64 // V
	Main           float64 // V
	Dissipation    float64 // W, resistances of the device included
}

// Devices returns the state of every device, in the order added.
func (s *Solver) Devices() []Operation {
	out := make([]Operation, 0, len(s.assembly.devices))
	for _, d := range s.assembly.devices {
		out = append(out, d.operation(s))
	}
	return out
}

// Device returns the state of the i-th device in the order added.
func (s *Solver) Device(i int) Operation { return s.assembly.devices[i].operation(s) }

func (d *diodeLoad) operation(s *Solver) Operation {
	inner := s.x[d.p] - s.x[d.q]
	i, _ := d.element.Law.Current(inner)
	i += leakConductance * inner
	v := s.Voltage(d.element.Anode) - s.Voltage(d.element.Cathode)
	return Operation{Name: d.element.Name, Kind: DiodeDevice, Current: i, Main: v, Dissipation: i * v}
}

// reading holds the coefficients that are not zero of one linear combination of
// active variables and sources.
type reading struct {
	active, source []term
}

// newReading takes the coefficients of a row in the order of a system's.
func newReading(row []float64, active int) reading {
	var r reading
	for i, c := range row {
		switch {
		case c == 0:
		case i < active:
			r.active = append(r.active, term{i, c})
		default:
			r.source = append(r.source, term{i - active, c})
		}
	}
	return r
}

func (r *reading) of(x, u []float64) float64 {
	sum := 0.0
	for _, c := range r.active {
		sum += c.value * x[c.at]
	}
	for _, c := range r.source {
		sum += c.value * u[c.at]
	}
	return sum
}

// storeRows returns what each reactance stores by, as a combination.
func (s *Solver) storeRows() [][]float64 {
	rows := make([][]float64, len(s.assembly.reactances))
	for i, r := range s.assembly.reactances {
		rows[i] = s.sys.combination(r.p, r.q)
		if r.inductive {
			rows[i] = s.sys.combination(r.branch, grounded)
		}
	}
	return rows
}

// readings prepares how the reactances of a solver are read.
func readings(s *Solver) []reading {
	var list []reading
	for _, row := range s.storeRows() {
		list = append(list, newReading(row, s.sys.kept+s.sys.driven))
	}
	return list
}
