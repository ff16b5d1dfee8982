package network

// assembly is a circuit written out as equations, before elimination. Its
// variables are the node voltages and then the branch currents; row i is the sum
// of currents leaving node i or the branch's own equation, and must be zero.
type assembly struct {
	circuit   *Circuit
	mode      mode
	step      float64 // seconds, in time
	variables int
	sources   int             // the circuit's, then memories
	entries   []entry         // by variable
	inputs    []entry         // by source
	grounding map[int]float64 // by variable: sum of its equation's voltage coefficients
	currents  map[int]bool    // variables that are branch currents
	loads     []load
	devices   []operated // those of the loads that are devices
	branchOf  map[Source]int

	losses     []loss // resistances outside of devices
	reactances []reactance
	speakers   []int // place of each loudspeaker's first motional store
}

// assemble writes out the circuit's equations.
func (c *Circuit) assemble(m mode, step float64) *assembly {
	a := &assembly{
		circuit: c, mode: m, step: step,
		variables: len(c.nodes) - 1, sources: len(c.sources),
		grounding: map[int]float64{}, currents: map[int]bool{}, branchOf: map[Source]int{},
	}
	for _, e := range c.elements {
		outside := len(a.losses)
		devices := len(a.devices)
		e.attach(a)
		if len(a.devices) > devices {
			a.losses = a.losses[:outside] // a device's own resistances are in its dissipation
		}
	}
	return a
}

// loss is a resistance between two variables.
type loss struct {
	p, q    int
	siemens float64
}

// device adds a nonlinear device.
func (a *assembly) device(d operated) {
	a.loads = append(a.loads, d)
	a.devices = append(a.devices, d)
}

// entry is one coefficient: equation row, variable or source col.
type entry struct {
	row, col int
	value    float64
}

// grounded is the variable index of ground, which has no equation.
const grounded = -1

// node returns the variable of a node's voltage.
func (a *assembly) node(n Node) int { return int(n) - 1 }

// variable makes a new variable with its equation: an inner node.
func (a *assembly) variable() int {
	a.variables++
	return a.variables - 1
}

// branch makes a current variable that flows through an element from plus to
// minus; the caller writes its equation.
func (a *assembly) branch(plus, minus Node) int {
	b := a.variable()
	a.currents[b] = true
	a.entry(a.node(plus), b, 1)
	a.entry(a.node(minus), b, -1)
	return b
}

func (a *assembly) entry(row, col int, value float64) {
	if row == grounded || col == grounded {
		return
	}
	a.entries = append(a.entries, entry{row, col, value})
	if !a.currents[col] {
		a.grounding[row] += value
	}
}

func (a *assembly) input(row int, s Source, value float64) {
	if row != grounded {
		a.inputs = append(a.inputs, entry{row, int(s), value})
	}
}

// conductance joins two variables by siemens. Its four coefficients cancel in
// the grounding, exactly, unless one end is ground.
func (a *assembly) conductance(p, q int, siemens float64) {
	a.losses = append(a.losses, loss{p, q, siemens})
	switch {
	case p == q:
	case q == grounded:
		a.entry(p, p, siemens)
	case p == grounded:
		a.entry(q, q, siemens)
	default:
		a.entries = append(
			a.entries,
			entry{p, p, siemens}, entry{q, q, siemens}, entry{p, q, -siemens}, entry{q, p, -siemens},
		)
	}
}

// through puts a resistance in series with a terminal and returns the variable
// of the inner end; without resistance that is the terminal itself.
func (a *assembly) through(terminal int, ohms float64) int {
	if ohms == 0 {
		return terminal
	}
	inner := a.variable()
	a.conductance(terminal, inner, 1/ohms)
	return inner
}
