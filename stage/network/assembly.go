package network

// assembly is a circuit written out as equations, before elimination. Its
// variables are the node voltages and then the branch currents; row i is the sum
// of currents leaving node i or the branch's own equation, and must be zero.
type assembly struct {
	circuit   *Circuit
	variables int
	entries   []entry // by variable
	inputs    []entry // by source
	loads     []load
	branchOf  map[Source]int
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
	a.entry(a.node(plus), b, 1)
	a.entry(a.node(minus), b, -1)
	return b
}

func (a *assembly) entry(row, col int, value float64) {
	if row != grounded && col != grounded {
		a.entries = append(a.entries, entry{row, col, value})
	}
}

func (a *assembly) input(row int, s Source, value float64) {
	if row != grounded {
		a.inputs = append(a.inputs, entry{row, int(s), value})
	}
}

func (a *assembly) conductance(p, q int, siemens float64) {
	a.entry(p, p, siemens)
	a.entry(q, q, siemens)
	a.entry(p, q, -siemens)
	a.entry(q, p, -siemens)
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
