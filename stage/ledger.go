package stage

import (
	"math"
	"slices"

	"quietcross/stage/network"
)

// Ledger is where a dynamic stage's energy went, in joules, since it was opened.
// The power of every element over a step is the product of its mean voltage and
// mean current, with which the trapezoidal rule's books close exactly.
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

	// Rule is what the stores have taken beside those products, by the corrections of the
	// rule: it comes and goes with what they hold.
	Rule float64

	siemens []float64
	opening float64 // stored
	begun   float64 // rule
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
	d.ledger = &Ledger{
		Devices: make([]float64, len(d.ends.devices)),
		siemens: d.transient.Solver().Conductances(), opening: d.transient.Stored(), begun: d.transient.Rule(),
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
func (d *Dynamic) book(solver *network.Solver, seconds float64) {
	from, to, l := d.ends, d.read(solver), d.ledger
	l.Seconds += seconds
	mean := func(a, b float64) float64 { return (a + b) / 2 }
	for i := range to.sources {
		joules := mean(from.values[i], to.values[i]) * mean(from.sources[i], to.sources[i]) * seconds
		if i < len(d.biased.net.Supplies) {
			l.Supply += joules
		} else {
			l.Input += joules
		}
	}
	l.Load += mean(from.out, to.out) * mean(from.load, to.load) * seconds
	l.Input += mean(from.amplifier[0], to.amplifier[0]) * mean(from.amplifier[1], to.amplifier[1]) * seconds
	for i, o := range to.devices {
		f := from.devices[i]
		watts := mean(f.Main, o.Main)*mean(f.Current, o.Current) + mean(f.Control, o.Control)*mean(f.ControlCurrent, o.ControlCurrent)
		l.Devices[i] += watts * seconds
	}
	for i, rail := range to.rails { // what a rectifier takes is no conductance of the network
		across := mean(from.values[i]-from.rails[i], to.values[i]-rail)
		l.Resistances += across * mean(from.sources[i], to.sources[i]) * seconds
	}
	for i, g := range l.siemens {
		v := mean(from.across[i], to.across[i])
		l.Resistances += g * v * v * seconds
	}
	d.ends = to
}
