package network

import "quietcross/stage/device"

// leakConductance lies across every junction, in siemens: it gives a node
// between two blocking junctions a voltage. At 40 V it passes 40 fA.
const leakConductance = 1e-15

// load is a nonlinear device as a solver sees it, with the voltages at which it
// was last evaluated.
type load interface {
	// terminals returns the variables the device touches.
	terminals() []int
	// bind translates those variables to active indices.
	bind(index func(variable int) int)
	// stamp evaluates the device at x and adds its currents and derivatives.
	// It reports whether a junction had to be limited.
	stamp(s *stamper) (limited bool)
	// reset forgets the last voltages.
	reset()
}

// operated is a load that people know as a device.
type operated interface {
	load
	// operation reads the device at the solver's solution.
	operation(s *Solver) Operation
	// control returns the active indices of the terminals whose voltage makes the device
	// conduct, and whether it did so at the last evaluation: with a hundredth of the
	// maximum current so far or more.
	control() (p, q int, conducts bool)
}

// maximum follows the current of a device.
type maximum struct{ now, ever float64 }

func (g *maximum) follow(amperes float64) {
	g.now = amperes
	g.ever = larger(amperes, g.ever)
}

func (g *maximum) conducts() bool { return g.now > g.ever/100 }

// stamper is where loads write: currents leaving each active variable's node
// and their derivatives. Ground has the last index, which is never read.
type stamper struct {
	x      []float64
	f      []float64
	j      []float64
	stride int
	leak   float64 // leakConductance, or more while stepping it
}

// current adds a current i that flows through a device from p to q.
func (s *stamper) current(p, q int, i float64) {
	s.f[p] += i
	s.f[q] -= i
}

// conductance adds the derivative g of a current from p to q by the voltage of
// p against q.
func (s *stamper) conductance(p, q int, g float64) {
	s.transfer(p, q, p, q, g)
}

// transfer adds the derivative g of a current from p to q by the voltage of c
// against d.
func (s *stamper) transfer(p, q, c, d int, g float64) {
	s.j[p*s.stride+c] += g
	s.j[p*s.stride+d] -= g
	s.j[q*s.stride+c] -= g
	s.j[q*s.stride+d] += g
}

// Diode is a junction at its temperature, conducting from Anode to Cathode.
type Diode struct {
	Name           string
	Anode, Cathode Node
	Law            device.Diode
	SeriesOhms     float64
}

func (d *Diode) attach(a *assembly) {
	l := &diodeLoad{element: d, variable: [2]int{a.through(a.node(d.Anode), d.SeriesOhms), a.node(d.Cathode)}}
	a.device(l)
}

type diodeLoad struct {
	element  *Diode
	variable [2]int
	p, q     int
	last     float64
	peak     maximum
}

func (d *diodeLoad) terminals() []int { return d.variable[:] }

func (d *diodeLoad) bind(index func(int) int) {
	d.p, d.q = index(d.variable[0]), index(d.variable[1])
}

func (d *diodeLoad) reset() { d.last = 0 }

func (d *diodeLoad) stamp(s *stamper) bool {
	v := s.x[d.p] - s.x[d.q]
	at := d.element.Law.Limit(v, d.last)
	d.last = at
	i, g := d.element.Law.Current(at)
	d.peak.follow(i)
	s.current(d.p, d.q, i+g*(v-at)+s.leak*v)
	s.conductance(d.p, d.q, g+s.leak)
	return at != v
}

func (d *diodeLoad) control() (p, q int, conducts bool) { return d.p, d.q, d.peak.conducts() }

// Polarity of a transistor.
type Polarity float64

// The two polarities of a transistor.
const (
	NPN Polarity = 1
	PNP Polarity = -1
)
