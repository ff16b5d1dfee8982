package network

import "quietcross/stage/device"

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
