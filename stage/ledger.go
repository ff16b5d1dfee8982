package stage

import (
	"math"
	"slices"

	"quietcross/stage/network"
)

// Ledger is where a dynamic stage's energy went, in joules, since it was opened.
// The power of every element over a step is that of [network.Quadrature.Power], with which the
// books close exactly.
type Ledger struct {
	Seconds float64
	Supply  float64   // from all supplies
	Input   float64   // from the signal source, a feedback amplifier and an ideal bias source
	Load    float64   // into the load's terminals
	Devices []float64 // into each device, in the order of Names
	Names   []string
	// Resistances have taken this in all, those of the load included, and Stored is
	// what capacitances and inductances have more than at the opening.
	Resistances float64
	Stored      float64

	// Rule is what the stores have taken beside that, by the corrections of the rule: it
	// comes and goes with what they hold.
	Rule float64

	siemens []float64
	opening float64 // stored
}

// Imbalance returns what the books are out by, relative to all that was delivered:
// supplies and input against devices, resistances and stores.
func (l *Ledger) Imbalance() float64 {
	left := l.Supply + l.Input + l.Rule - l.Resistances - l.Stored
	for _, joules := range l.Devices {
		left -= joules
	}
	return left / max(math.Abs(l.Supply)+math.Abs(l.Input), math.SmallestNonzeroFloat64)
}

// Powers returns the mean powers in watts: from supplies, from the input, into the
// load and into all devices.
func (l *Ledger) Powers() (supply, input, load, devices float64) {
	if l.Seconds == 0 {
		return 0, 0, 0, 0
	}
	for _, joules := range l.Devices {
		devices += joules
	}
	return l.Supply / l.Seconds, l.Input / l.Seconds, l.Load / l.Seconds, devices / l.Seconds
}

// ends holds the voltages and currents at the end of the last step.
type ends struct {
	sources []float64 // currents of supplies, input and bias sources
	values  []float64 // their volts
	out     float64
	load    float64
	devices []network.Operation
	across  []float64

	amplifier [2]float64 // its output volts and amperes
	rails     []float64  // volts behind rectifiers, in the order of supplies; none without
}

// OpenLedger starts to account for the stage's energy, and returns the account
// that Process then goes on writing. It costs about as much time as a step.
func (d *Dynamic) OpenLedger() *Ledger {
	d.ends = d.read(d.transient.Solver())
	d.earlier = d.ends
	d.ledger = &Ledger{
		Devices: make([]float64, len(d.ends.devices)),
		siemens: d.transient.Solver().Conductances(), opening: d.transient.Stored(),
	}
	for _, o := range d.ends.devices {
		d.ledger.Names = append(d.ledger.Names, o.Name)
	}
	d.transient.AfterEach(d.book)
	return d.ledger
}

// OpenMeter starts to take the stage's mean powers, and returns them as Process goes on. It
// costs little, and closes no books.
func (d *Dynamic) OpenMeter() *network.Meter {
	net := d.biased.net
	return d.transient.Meter(net.Supplies, net.Out, net.Load)
}

// read takes the present voltages and currents.
func (d *Dynamic) read(solver *network.Solver) ends {
	net := d.biased.net
	e := ends{out: solver.Voltage(net.Out), load: solver.Current(net.Load), devices: solver.Devices(), across: solver.Across()}
	for _, src := range d.accounts() {
		e.sources = append(e.sources, solver.Current(src))
		e.values = append(e.values, solver.Value(src))
	}
	if len(net.Gates) > 0 {
		for _, node := range d.biased.railNodes() {
			e.rails = append(e.rails, solver.Voltage(node))
		}
	}
	if feed := net.Amplifier; feed != nil {
		e.amplifier = [2]float64{solver.Voltage(feed.Node), solver.Current(feed.Meter)}
	}
	return e
}

// accounts lists the sources that deliver energy, the supplies first.
func (d *Dynamic) accounts() []network.Source {
	net := d.biased.net
	return slices.Concat(net.Supplies, net.Inputs())
}

// book books one step, or one part of it.
func (d *Dynamic) book(solver *network.Solver, over network.Quadrature) {
	before, from, to, l := d.earlier, d.ends, d.read(solver), d.ledger
	l.Seconds += over.Seconds
	joules := func(volts, amperes [3]float64) float64 { return over.Power(volts, amperes) * over.Seconds }
	at := func(a, b, c []float64, i int) [3]float64 { return [3]float64{a[i], b[i], c[i]} }
	for i := range to.sources {
		taken := joules(at(to.values, from.values, before.values, i), at(to.sources, from.sources, before.sources, i))
		if i < len(d.biased.net.Supplies) {
			l.Supply += taken
		} else {
			l.Input += taken
		}
	}
	l.Load += joules([3]float64{to.out, from.out, before.out}, [3]float64{to.load, from.load, before.load})
	l.Input += joules(
		[3]float64{to.amplifier[0], from.amplifier[0], before.amplifier[0]},
		[3]float64{to.amplifier[1], from.amplifier[1], before.amplifier[1]})
	for i := range to.devices {
		o, f, e := &to.devices[i], &from.devices[i], &before.devices[i]
		l.Devices[i] += joules([3]float64{o.Main, f.Main, e.Main}, [3]float64{o.Current, f.Current, e.Current}) +
			joules([3]float64{o.Control, f.Control, e.Control}, [3]float64{o.ControlCurrent, f.ControlCurrent, e.ControlCurrent})
	}
	for i := range to.rails { // what a rectifier takes is no conductance of the network
		across := [3]float64{to.values[i] - to.rails[i], from.values[i] - from.rails[i], before.values[i] - before.rails[i]}
		l.Resistances += joules(across, at(to.sources, from.sources, before.sources, i))
	}
	for i, g := range l.siemens {
		v := at(to.across, from.across, before.across, i)
		l.Resistances += g * joules(v, v)
	}
	d.earlier, d.ends = from, to
}
