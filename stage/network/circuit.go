// Package network solves electrical networks of resistors, sources and
// nonlinear devices by modified nodal analysis (C.-W. Ho, A. E. Ruehli and
// P. A. Brennan, IEEE Trans. Circuits and Systems CAS-22(6):504, 1975).
//
// A Circuit is a list of elements between named nodes. Compile eliminates its
// linear part once, exactly, down to the nodes that nonlinear devices touch; a
// Solver then iterates on those alone by Newton's method with analytic
// derivatives, junction limiting and, when it must, stepping of the sources.
// After a solution, the derivative of every voltage and current by every source
// is one linear solution away, and as exact as the solution itself.
//
// Voltages are volts against ground, currents amperes, resistances ohms.
package network

import (
	"fmt"
	"slices"
)

// Node is a place in a Circuit. The zero Node is ground.
type Node int

// Ground is the node that all voltages are measured against.
const Ground Node = 0

// Source names an independent source of a Circuit, whose value a Solver can
// set: volts or amperes.
type Source int

// Element is a part that a Circuit is made of. The set is closed: the element
// types of this package.
type Element interface {
	attach(*assembly)
}

// Circuit collects elements between nodes. The zero value is not ready; use New.
type Circuit struct {
	nodes    []string
	byName   map[string]Node
	driven   map[Node]Source
	sources  []source
	elements []Element
}

type source struct {
	name  string
	value float64
}

// New returns an empty circuit.
func New() *Circuit {
	return &Circuit{
		nodes:  []string{"ground"},
		byName: map[string]Node{"ground": Ground},
		driven: map[Node]Source{},
	}
}

// Node returns the node of that name, making it at its first mention.
func (c *Circuit) Node(name string) Node {
	if n, ok := c.byName[name]; ok {
		return n
	}
	n := Node(len(c.nodes))
	c.nodes = append(c.nodes, name)
	c.byName[name] = n
	return n
}

// Name returns the name of a node.
func (c *Circuit) Name(n Node) string { return c.nodes[n] }

// Nodes returns the number of nodes, ground included; they are 0 to Nodes()-1.
func (c *Circuit) Nodes() int { return len(c.nodes) }

// SourceName returns the name of a source.
func (c *Circuit) SourceName(s Source) string { return c.sources[s].name }

// Drive holds the node of that name at volts against ground: a rail or a
// stiffly driven input. It panics on ground and on a node driven before.
func (c *Circuit) Drive(name string, volts float64) (Node, Source) {
	n := c.Node(name)
	if _, twice := c.driven[n]; twice || n == Ground {
		panic(fmt.Sprintf("network: node %q cannot be driven", name))
	}
	s := c.source(name, volts)
	c.driven[n] = s
	return n, s
}

// Add puts elements into the circuit.
func (c *Circuit) Add(elements ...Element) { c.elements = append(c.elements, elements...) }

// Elements returns the elements in the order added.
func (c *Circuit) Elements() []Element { return slices.Clone(c.elements) }

// Driven returns the source that holds a node against ground, and whether there is
// one.
func (c *Circuit) Driven(n Node) (Source, bool) {
	s, ok := c.driven[n]
	return s, ok
}

// VoltageSource holds plus at volts above minus, at any current.
func (c *Circuit) VoltageSource(name string, plus, minus Node, volts float64) Source {
	s := c.source(name, volts)
	c.Add(VoltageSource{Plus: plus, Minus: minus, Source: s})
	return s
}

// CurrentSource carries amperes through itself from one node to another.
func (c *Circuit) CurrentSource(name string, from, to Node, amperes float64) Source {
	s := c.source(name, amperes)
	c.Add(CurrentSource{From: from, To: to, Source: s})
	return s
}

func (c *Circuit) source(name string, value float64) Source {
	c.sources = append(c.sources, source{name: name, value: value})
	return Source(len(c.sources) - 1)
}

// VoltageSource is the element that [Circuit.VoltageSource] adds.
type VoltageSource struct {
	Plus, Minus Node
	Source      Source
}

func (v VoltageSource) attach(a *assembly) {
	b := a.branch(v.Plus, v.Minus)
	a.entry(b, a.node(v.Plus), 1)
	a.entry(b, a.node(v.Minus), -1)
	a.input(b, v.Source, -1)
	a.branchOf[v.Source] = b
}

// CurrentSource is the element that [Circuit.CurrentSource] adds.
type CurrentSource struct {
	From, To Node
	Source   Source
}

func (i CurrentSource) attach(a *assembly) {
	a.input(a.node(i.From), i.Source, 1)
	a.input(a.node(i.To), i.Source, -1)
}

// Resistor joins two nodes by a resistance in ohms, > 0.
type Resistor struct {
	A, B Node
	Ohms float64
}

func (r Resistor) attach(a *assembly) { a.conductance(a.node(r.A), a.node(r.B), 1/r.Ohms) }

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
