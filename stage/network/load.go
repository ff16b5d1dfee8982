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
}

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
	l := &diodeLoad{element: d, law: d.Law, variable: [2]int{a.through(a.node(d.Anode), d.SeriesOhms), a.node(d.Cathode)}}
	a.device(l)
}

type diodeLoad struct {
	element  *Diode
	law      device.Diode
	variable [2]int
	p, q     int
	last     float64
}

func (d *diodeLoad) terminals() []int { return d.variable[:] }

func (d *diodeLoad) bind(index func(int) int) {
	d.p, d.q = index(d.variable[0]), index(d.variable[1])
}

func (d *diodeLoad) reset() { d.last = 0 }

func (d *diodeLoad) stamp(s *stamper) bool {
	v := s.x[d.p] - s.x[d.q]
	at := d.law.Limit(v, d.last)
	d.last = at
	i, g := d.law.Current(at)
	s.current(d.p, d.q, i+g*(v-at)+s.leak*v)
	s.conductance(d.p, d.q, g+s.leak)
	return at != v
}

// Polarity of a transistor.
type Polarity float64

// The two polarities of a transistor.
const (
	NPN Polarity = 1
	PNP Polarity = -1
)

// Bipolar is a bipolar transistor at its temperature, with its resistances.
type Bipolar struct {
	Name                                 string
	Collector, Base, Emitter             Node
	Polarity                             Polarity
	Law                                  device.Transistor
	CollectorOhms, BaseOhms, EmitterOhms float64
}

func (t *Bipolar) attach(a *assembly) {
	l := &bipolarLoad{element: t, sign: float64(t.Polarity)}
	l.variable[0] = a.through(a.node(t.Collector), t.CollectorOhms)
	l.variable[1] = a.through(a.node(t.Base), t.BaseOhms)
	l.variable[2] = a.through(a.node(t.Emitter), t.EmitterOhms)
	a.device(l)
}

type bipolarLoad struct {
	element          *Bipolar
	sign             float64
	variable         [3]int // inner collector, base, emitter
	c, b, e          int
	lastVBE, lastVBC float64
}

func (t *bipolarLoad) terminals() []int { return t.variable[:] }

func (t *bipolarLoad) bind(index func(int) int) {
	t.c, t.b, t.e = index(t.variable[0]), index(t.variable[1]), index(t.variable[2])
}

func (t *bipolarLoad) reset() { t.lastVBE, t.lastVBC = 0, 0 }

func (t *bipolarLoad) stamp(s *stamper) bool {
	law := &t.element.Law
	vbe := t.sign * (s.x[t.b] - s.x[t.e])
	vbc := t.sign * (s.x[t.b] - s.x[t.c])
	atBE, atBC := law.Limit(vbe, t.lastVBE), law.Limit(vbc, t.lastVBC)
	t.lastVBE, t.lastVBC = atBE, atBC
	i := law.Currents(atBE, atBC)
	dBE, dBC := vbe-atBE, vbc-atBC
	ic := i.IC + i.ICByVBE*dBE + i.ICByVBC*dBC
	ib := i.IB + i.IBByVBE*dBE + i.IBByVBC*dBC

	s.current(t.c, t.e, t.sign*ic)
	s.current(t.b, t.e, t.sign*ib+s.leak*(s.x[t.b]-s.x[t.e]))
	s.current(t.b, t.c, s.leak*(s.x[t.b]-s.x[t.c]))
	s.transfer(t.c, t.e, t.b, t.e, i.ICByVBE)
	s.transfer(t.c, t.e, t.b, t.c, i.ICByVBC)
	s.transfer(t.b, t.e, t.b, t.e, i.IBByVBE+s.leak)
	s.transfer(t.b, t.e, t.b, t.c, i.IBByVBC)
	s.conductance(t.b, t.c, s.leak)
	return dBE != 0 || dBC != 0
}
