package network

import (
	"quietcross/stage/device"
)

// The two transistors as loads: each evaluates its law at the voltages of its inner
// terminals and writes currents and derivatives. The bipolar one limits how far a junction
// may go in one iteration, and may have charges, which are stores inside of it.

// Bipolar is a bipolar transistor at its temperature, with its resistances and, in
// time, the charges that it must gain and lose.
type Bipolar struct {
	Name                                 string
	Collector, Base, Emitter             Node
	Polarity                             Polarity
	Law                                  device.Transistor
	CollectorOhms, BaseOhms, EmitterOhms float64
	BaseEmitterFarads                    float64 // junction capacitance; 0: none
	BaseCollectorFarads                  float64 // junction capacitance; 0: none
	TransitTime                          float64 // s; the carriers' charge is this times the forward current; 0: none
}

func (t *Bipolar) attach(a *assembly) {
	l := &bipolarLoad{element: t, sign: float64(t.Polarity), charge: grounded}
	c := a.through(a.node(t.Collector), t.CollectorOhms)
	b := a.through(a.node(t.Base), t.BaseOhms)
	e := a.through(a.node(t.Emitter), t.EmitterOhms)
	l.variable = []int{c, b, e}
	first := len(a.reactances)
	if t.BaseEmitterFarads > 0 {
		l.toEmitter = append(l.toEmitter, a.store(b, e, t.BaseEmitterFarads, false, true))
	}
	if t.BaseCollectorFarads > 0 {
		l.toCollector = append(l.toCollector, a.store(b, c, t.BaseCollectorFarads, false, true))
	}
	if t.TransitTime > 0 {
		l.toEmitter = append(l.toEmitter, l.carriers(a, b, e))
	}
	for i := first; i < len(a.reactances); i++ {
		a.reactances[i].inside = true
	}
	a.device(l)
}

// carriers makes a variable that equals the forward current, in the polarity's
// sign, and a capacitance of as many farads as the transit time has seconds on it:
// its current is then that of the carriers' charge, and flows from base to emitter.
func (t *bipolarLoad) carriers(a *assembly, b, e int) (branch int) {
	w := a.variable()
	a.entry(w, w, 1)
	branch = a.variable()
	a.currents[branch] = true
	a.entry(b, branch, 1)
	a.entry(e, branch, -1)
	a.storeOf(branch, w, grounded, t.element.TransitTime, false, true)
	t.variable = append(t.variable, w)
	return branch
}

type bipolarLoad struct {
	element          *Bipolar
	sign             float64
	variable         []int // inner collector, base, emitter; forward current where charges are kept
	c, b, e          int
	charge           int // active index of the forward current, or grounded
	lastVBE, lastVBC float64
	peak             maximum
	// Branches of the currents that charges take from the base.
	toEmitter, toCollector []int
}

func (t *bipolarLoad) terminals() []int { return t.variable }

func (t *bipolarLoad) bind(index func(int) int) {
	t.c, t.b, t.e = index(t.variable[0]), index(t.variable[1]), index(t.variable[2])
	if len(t.variable) > 3 {
		t.charge = index(t.variable[3])
	}
}

func (t *bipolarLoad) reset() { t.lastVBE, t.lastVBC = 0, 0 }

func (t *bipolarLoad) stamp(s *stamper) bool {
	law := &t.element.Law
	vbe := t.sign * (s.x[t.b] - s.x[t.e])
	vbc := t.sign * (s.x[t.b] - s.x[t.c])
	atBE, atBC := law.Limit(vbe, t.lastVBE), law.Limit(vbc, t.lastVBC)
	t.lastVBE, t.lastVBC = atBE, atBC
	i := law.Currents(atBE, atBC)
	t.peak.follow(i.IC)
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
	if t.charge != grounded {
		ground := s.stride - 1
		s.current(t.charge, ground, -t.sign*(i.Forward+i.ForwardByVBE*dBE+i.ForwardByVBC*dBC))
		s.transfer(t.charge, ground, t.b, t.e, -i.ForwardByVBE)
		s.transfer(t.charge, ground, t.b, t.c, -i.ForwardByVBC)
	}
	return dBE != 0 || dBC != 0
}

func (t *bipolarLoad) control() (p, q int, conducts bool) {
	return t.b, t.e, t.peak.conducts()
}

func (t *bipolarLoad) operation(s *Solver) Operation {
	vbe, vbc := s.x[t.b]-s.x[t.e], s.x[t.b]-s.x[t.c]
	i := t.element.Law.Currents(t.sign*vbe, t.sign*vbc)
	ic := i.IC - leakConductance*t.sign*vbc
	ib := i.IB + leakConductance*t.sign*(vbe+vbc)
	for _, b := range t.toEmitter {
		ib += t.sign * s.at(b)
	}
	for _, b := range t.toCollector {
		ib += t.sign * s.at(b)
		ic -= t.sign * s.at(b)
	}
	base, emitter := s.Voltage(t.element.Base), s.Voltage(t.element.Emitter)
	control := t.sign * (base - emitter)
	main := t.sign * (s.Voltage(t.element.Collector) - emitter)
	return Operation{
		Name: t.element.Name, Kind: BipolarDevice, Current: ic, ControlCurrent: ib,
		Control: control, Main: main, Dissipation: ic*main + ib*control,
	}
}

// FieldEffect is an enhancement field-effect transistor at its temperature, its
// body tied to its source; NPN stands for an n-channel device and PNP for a
// p-channel one.
type FieldEffect struct {
	Name                  string
	Drain, Gate, Source   Node
	Polarity              Polarity
	Law                   device.Channel
	DrainOhms, SourceOhms float64
}

func (t *FieldEffect) attach(a *assembly) {
	l := &channelLoad{element: t, sign: float64(t.Polarity)}
	l.variable[0] = a.through(a.node(t.Drain), t.DrainOhms)
	l.variable[1] = a.node(t.Gate)
	l.variable[2] = a.through(a.node(t.Source), t.SourceOhms)
	a.device(l)
}

type channelLoad struct {
	element  *FieldEffect
	sign     float64
	variable [3]int // inner drain, gate, inner source
	d, g, s  int
	peak     maximum
}

func (t *channelLoad) terminals() []int { return t.variable[:] }

func (t *channelLoad) bind(index func(int) int) {
	t.d, t.g, t.s = index(t.variable[0]), index(t.variable[1]), index(t.variable[2])
}

func (t *channelLoad) reset() {}

// stamp needs no limiting: the law grows no faster than a square.
func (t *channelLoad) stamp(s *stamper) bool {
	vgs := t.sign * (s.x[t.g] - s.x[t.s])
	vds := t.sign * (s.x[t.d] - s.x[t.s])
	id, byVGS, byVDS := t.element.Law.Current(vgs, vds)
	t.peak.follow(id)
	s.current(t.d, t.s, t.sign*id+s.leak*(s.x[t.d]-s.x[t.s]))
	s.transfer(t.d, t.s, t.g, t.s, byVGS)
	s.conductance(t.d, t.s, byVDS+s.leak)
	return false
}

func (t *channelLoad) control() (p, q int, conducts bool) {
	return t.g, t.s, t.peak.conducts()
}

func (t *channelLoad) operation(s *Solver) Operation {
	inner := t.sign * (s.x[t.d] - s.x[t.s])
	id, _, _ := t.element.Law.Current(t.sign*(s.x[t.g]-s.x[t.s]), inner)
	id += leakConductance * inner
	source := s.Voltage(t.element.Source)
	main := t.sign * (s.Voltage(t.element.Drain) - source)
	return Operation{
		Name: t.element.Name, Kind: FieldEffectDevice, Current: id,
		Control: t.sign * (s.Voltage(t.element.Gate) - source), Main: main, Dissipation: id * main,
	}
}
