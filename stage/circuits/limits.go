package circuits

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// What every circuit may be given beyond its ideal form, each by a table of its own in
// the stage file and none of it by default: supplies with a resistance, a reservoir and
// the mains' ripple; a coil and a Zobel network between output and load; stoppers in the
// bases or gates of the output devices; several devices in parallel that do not quite
// match; and the corners of the safe operating area. The rails are made so where a
// circuit asks for its supplies, coil and Zobel network where it asks for its load, and
// stoppers and parallel devices are put into the finished network.

// PowerSupply is what stands between the transformer and each rail. The voltages of
// Supply are those of the reservoirs with no load.
//
// The rectifier is a resistance that is there for a part of each half of the mains
// cycle. With a load of constant current I it gives in closed form, with the time T =
// 1/(2 mains) between crests and the part d of it that conducts,
//
//	ripple, peak to peak:  I T (1-d)/C          (textbooks: I/(2 f C), d small)
//	mean drop:             I (R d (2-d) + (1-d)^2 T/(2C) coth(T/(2RC)))
//
// which for a large reservoir is I R.
type PowerSupply struct {
	Fitted     bool
	Ohms       float64 // mean voltage drop over mean current with a large reservoir
	Farads     float64 // reservoir of each rail; 0: none
	Mains      float64 // Hz; 0: no ripple
	Conduction float64 // part of the time in which the rectifier conducts
}

// Ripples reports whether the supply has the mains' ripple.
func (s *PowerSupply) Ripples() bool { return s.Fitted && s.Farads > 0 && s.Mains > 0 }

// Effective returns the mean voltage drop of a rail over its mean current, ohms.
func (s *PowerSupply) Effective() float64 {
	if !s.Fitted {
		return 0
	}
	if !s.Ripples() {
		return s.Ohms
	}
	d, half := s.Conduction, s.half()
	return s.Ohms*d*(2-d) + (1-d)*(1-d)*half/(2*s.Farads)/math.Tanh(half/(2*s.Ohms*s.Farads))
}

// Ripple returns the ripple, peak to peak in volts, under a constant current.
func (s *PowerSupply) Ripple(amperes float64) float64 {
	if !s.Ripples() {
		return 0
	}
	return amperes * s.half() * (1 - s.Conduction) / s.Farads
}

// half is the time between two crests of the mains, s.
func (s *PowerSupply) half() float64 { return 1 / (2 * s.Mains) }

// Gate returns the rectifier's conductance re that of Effective, as its mean about a time
// over a width, both in seconds: steps of that width keep the charge of each crest
// whatever their phase. It begins in the middle between two crests.
func (s *PowerSupply) Gate(seconds, width float64) float64 {
	phase, reach := math.Mod(seconds/s.half(), 1), width/s.half()/2
	share := 0.0
	for _, crest := range []float64{-0.5, 0.5, 1.5} {
		from, to := max(phase-reach, crest-s.Conduction/2), min(phase+reach, crest+s.Conduction/2)
		share += max(0, to-from) / (2 * reach)
	}
	return s.Effective() / (s.Ohms * s.Conduction) * share
}

// Unloaded stands before the name of a rail in that of the source behind its supply.
const Unloaded = "unloaded "

// supplied makes a rail of that name: driven, or behind what the supply has.
func supplied(c *network.Circuit, s *PowerSupply, name string, volts float64) (network.Node, network.Source) {
	if !s.Fitted {
		return c.Drive(name, volts)
	}
	unloaded, source := c.Drive(Unloaded+name, volts)
	rail := c.Node(name)
	if s.Farads > 0 {
		c.Add(network.Capacitor{A: rail, Farads: s.Farads})
	}
	if !s.Ripples() {
		c.Add(network.Resistor{A: unloaded, B: rail, Ohms: s.Ohms})
		return rail, source
	}
	gate, _ := c.Drive(gateOf(Unloaded+name), 1)
	c.Add(network.Charger{From: unloaded, To: rail, Gate: gate, Ohms: s.Effective()})
	return rail, source
}

// gateOf names the node that turns a rectifier on.
func gateOf(supply string) string { return supply + "'s rectifier" }

// gates finds the sources that turn the rectifiers on.
func (n *Network) gates(s *PowerSupply) {
	if !s.Ripples() {
		return
	}
	for _, supply := range n.Supplies {
		gate, _ := n.Circuit.Driven(n.Circuit.Node(gateOf(n.Circuit.SourceName(supply))))
		n.Gates = append(n.Gates, gate)
	}
}

// OutputNetwork stands between the output devices and the loudspeaker terminal.
type OutputNetwork struct {
	Fitted      bool
	Henries     float64 // coil in the way of the load; 0: none
	Damping     float64 // ohms across it; 0: none
	ZobelOhms   float64 // in series with the capacitance, before the coil
	ZobelFarads float64 // 0: none
}

// terminal puts the output network behind the devices' output and returns the
// loudspeaker terminal.
func (n *Network) terminal(o *OutputNetwork) network.Node {
	c := n.Circuit
	if o.Fitted && o.ZobelFarads > 0 {
		middle := series(c, n.Out, "Zobel network", o.ZobelOhms)
		c.Add(network.Capacitor{A: middle, Farads: o.ZobelFarads, Parasitic: true})
	}
	if !o.Fitted || o.Henries == 0 {
		return n.Out
	}
	terminal := c.Node("terminal")
	c.Add(network.Inductor{A: n.Out, B: terminal, Henries: o.Henries, Parasitic: true})
	if o.Damping > 0 {
		c.Add(network.Resistor{A: n.Out, B: terminal, Ohms: o.Damping})
	}
	return terminal
}

// Stoppers are resistors in the base or gate of each output device.
type Stoppers struct {
	Fitted bool
	Ohms   float64 // each
}

// Parallel is several output devices in place of each, with an emitter resistor and a
// stopper each. The first of each side takes the most current.
type Parallel struct {
	Fitted     bool
	Devices    int
	Volts      float64 // spread of their base-emitter voltages at one current, or of their thresholds, V
	GainSpread float64 // spread of their current gains, relative to the mean
}

// count returns how many devices stand in place of each.
func (p *Parallel) count() int {
	if !p.Fitted {
		return 1
	}
	return p.Devices
}

// at returns where the i-th device stands in the spread, from 1/2 for that which takes
// the most current to -1/2.
func (p *Parallel) at(i int) float64 {
	if p.count() == 1 {
		return 0
	}
	return 0.5 - float64(i)/float64(p.count()-1)
}

// transistor returns the i-th of parallel devices.
func (p *Parallel) transistor(t Transistor, i int) Transistor {
	x := p.at(i)
	t.Saturation *= math.Exp(x * p.Volts / (t.Emission * roomVolts))
	t.ForwardGain *= 1 + x*p.GainSpread
	return t
}

func (p *Parallel) fieldEffect(f FieldEffect, i int) FieldEffect {
	f.Threshold -= p.at(i) * p.Volts
	return f
}

// most returns parts whose output devices are those of each side that take the most
// current.
func (p Parts) most() Parts {
	if p.Parallel.count() > 1 {
		p.Upper, p.Lower = p.Parallel.transistor(p.Upper, 0), p.Parallel.transistor(p.Lower, 0)
		p.UpperFET, p.LowerFET = p.Parallel.fieldEffect(p.UpperFET, 0), p.Parallel.fieldEffect(p.LowerFET, 0)
	}
	return p
}

// outfit puts parallel devices and stoppers into a finished network, and notes which
// devices stand on which side.
func (n *Network) outfit(p *Parts, t Temperatures) {
	devices := deviceElements(n.Circuit)
	count := len(devices)
	for side, place := range n.Outputs {
		n.Sides = append(n.Sides, []int{place})
		leg := n.leg(devices[place])
		for i := 1; i < p.Parallel.count(); i++ {
			n.Circuit.Add(n.twin(devices[place], leg, p, t, side, i))
			n.Sides[side] = append(n.Sides[side], count)
			count++
		}
	}
	if !p.Stoppers.Fitted {
		return
	}
	devices = deviceElements(n.Circuit)
	for _, places := range n.Sides {
		for _, place := range places {
			n.stop(devices[place], p.Stoppers.Ohms)
		}
	}
}

// deviceElements lists the elements that are devices, in the order of Solver.Devices.
func deviceElements(c *network.Circuit) []network.Element {
	var list []network.Element
	for _, e := range c.Elements() {
		switch e.(type) {
		case *network.Bipolar, *network.FieldEffect, *network.Diode:
			list = append(list, e)
		}
	}
	return list
}

// leg finds the resistor in an output device's emitter, source or, in a feedback pair,
// collector; nil where there is none.
func (n *Network) leg(e network.Element) *network.Resistor {
	var ends []network.Node
	switch d := e.(type) {
	case *network.Bipolar:
		ends = []network.Node{d.Emitter, d.Collector}
	case *network.FieldEffect:
		ends = []network.Node{d.Source}
	}
	for _, e := range n.Circuit.Elements() {
		r, ok := e.(network.Resistor)
		for _, end := range ends {
			if name := n.Circuit.Name(end); ok && r.B == end && (name == "emitter" || legName(name)) {
				return &r
			}
		}
	}
	return nil
}

// legName reports whether a node is that between an output device and its resistor.
func legName(name string) bool {
	switch name {
	case "upper emitter", "lower emitter", "upper source", "lower source":
		return true
	}
	return false
}

// twin makes the i-th of parallel devices, i > 0, beside the first, on a resistor of its
// own.
func (n *Network) twin(first network.Element, leg *network.Resistor, p *Parts, t Temperatures, side, i int) network.Element {
	where, bipolar, field := atUpper, p.Upper, p.UpperFET
	if side == 1 {
		where, bipolar, field = atLower, p.Lower, p.LowerFET
	}
	move := func(to network.Node) network.Node { return to }
	if leg != nil {
		own := n.Circuit.Node(fmt.Sprintf("%s %d", n.Circuit.Name(leg.B), i+1))
		n.Circuit.Add(network.Resistor{A: leg.A, B: own, Ohms: leg.Ohms})
		move = func(to network.Node) network.Node {
			if to == leg.B {
				return own
			}
			return to
		}
	}
	switch d := first.(type) {
	case *network.Bipolar:
		q, law := *d, p.Parallel.transistor(bipolar, i)
		q.Name = fmt.Sprintf("%s %d", d.Name, i+1)
		q.Emitter, q.Collector = move(d.Emitter), move(d.Collector)
		n.sense(t, func(t Temperatures) { q.Law = law.law().At(where(t) + law.Rise) })
		return &q
	case *network.FieldEffect:
		q, law := *d, p.Parallel.fieldEffect(field, i)
		q.Name = fmt.Sprintf("%s %d", d.Name, i+1)
		q.Source = move(d.Source)
		n.sense(t, func(t Temperatures) { q.Law = law.law().At(where(t) + law.Rise) })
		return &q
	}
	panic(fmt.Sprintf("circuits: a %T is no output device", first))
}

// stop puts a stopper into a device's base or gate.
func (n *Network) stop(e network.Element, ohms float64) {
	switch d := e.(type) {
	case *network.Bipolar:
		d.Base = series(n.Circuit, d.Base, d.Name+" stopper", ohms)
	case *network.FieldEffect:
		d.Gate = series(n.Circuit, d.Gate, d.Name+" stopper", ohms)
	}
}

// SafeArea is the corners of the safe operating area of one output device, with its case
// at 25 degrees Celsius.
type SafeArea struct {
	Fitted  bool
	Current float64 // maximum collector or drain current, A
	Power   float64 // maximum dissipation, W
	// From BreakdownVolts on second breakdown takes the place of power: from there the
	// limit falls, straight in logarithms, to BreakdownCurrent at the maximum voltage.
	BreakdownVolts   float64 // V; 0: no second breakdown
	BreakdownCurrent float64 // A
	Volts            float64 // maximum collector-emitter or drain-source voltage, V
}

// limitGroups are the tables of what a stage may be given.
func (k *Kind) limitGroups(p *Parts) []Group {
	s, o, m, a, b := &p.PowerSupply, &p.OutputNetwork, &p.Parallel, &p.SafeArea, &p.BiasPart
	list := []Group{
		{Name: "bias_part", Fitted: &b.Fitted, Doc: "why the bias part lags behind the sink; without this table it follows at once", Fields: []Field{
			real64("heat_store", &b.Store, quantity.HeatStore, 1e-3, 1e3, "heat capacity of the bias part"),
			real64("to_sink", &b.ToSink, quantity.PerWatt, 0.01, 1e3, "of the bias part, its washer and grease").optional(),
		}},
		{Name: "power_supply", Fitted: &s.Fitted, Doc: "transformer, rectifier and reservoir of each rail; without this table the rails are ideal", Fields: []Field{
			real64("resistance", &s.Ohms, quantity.Ohm, 1e-3, 1e3, "of transformer and rectifier: mean drop over mean current"),
			real64("reservoir", &s.Farads, quantity.Farad, 1e-6, 10, "capacitance of each rail").orZero("none"),
			real64("mains", &s.Mains, quantity.Hertz, 10, 1e3, "frequency of the mains; the reservoir is charged at twice that").orZero("no ripple"),
			real64("conduction", &s.Conduction, quantity.Number, 0.05, 0.9, "part of the time in which the rectifier conducts").optional(),
		}},
		{Name: "output_network", Fitted: &o.Fitted, Doc: "coil and Zobel network between the output devices and the loudspeaker terminal", Fields: []Field{
			real64("coil", &o.Henries, quantity.Henry, 1e-8, 1e-2, "in the way of the load").orZero("none"),
			real64("damping", &o.Damping, quantity.Ohm, 0.1, 1e4, "resistor across the coil").orZero("none"),
			real64("zobel_resistance", &o.ZobelOhms, quantity.Ohm, 0.1, 1e3, "in series with the capacitor to earth").orZero("none"),
			real64("zobel_capacitance", &o.ZobelFarads, quantity.Farad, 1e-10, 1e-5, "to earth").orZero("none"),
		}},
		{Name: "stoppers", Fitted: &p.Stoppers.Fitted, Doc: "resistors in the base or gate of each output device", Fields: []Field{
			real64("resistance", &p.Stoppers.Ohms, quantity.Ohm, 0.01, 1e4, "each"),
		}},
		{Name: "parallel", Fitted: &m.Fitted, Doc: "several output devices in place of each, with an emitter resistor each", Fields: []Field{
			{Key: "devices", Value: &m.Devices, Range: quantity.Range{Min: 1, Max: 8}, Doc: "in place of each"},
			real64("spread", &m.Volts, quantity.Volt, 1e-4, 2, "of base-emitter voltages at one current, or of thresholds").orZero("alike"),
			real64("gain_spread", &m.GainSpread, quantity.Number, 1e-3, 1.5, "of current gains, relative to their mean").orZero("alike"),
		}},
		{Name: "safe_area", Fitted: &a.Fitted, Doc: "corners of the safe operating area of one output device, its case at 25 degrees Celsius", Fields: []Field{
			real64("current", &a.Current, quantity.Ampere, 1e-3, 1e3, "maximum, steady"),
			real64("power", &a.Power, quantity.Watt, 1e-2, 1e4, "maximum dissipation; it falls to 0 at the maximum junction temperature"),
			real64("breakdown_voltage", &a.BreakdownVolts, quantity.Volt, 1, 1e3, "where second breakdown takes over from power").orZero("no second breakdown"),
			real64("breakdown_current", &a.BreakdownCurrent, quantity.Ampere, 1e-4, 1e3, "what second breakdown leaves at the maximum voltage").orZero("no second breakdown"),
			real64("voltage", &a.Volts, quantity.Volt, 1, 2e3, "maximum across the device"),
		}},
	}
	if k.loops() {
		list = append(list, Group{Name: "feedback_speed", Fitted: &p.Speed.Fitted, Doc: "what limits the speed of the amplifier in the feedback loop", Fields: []Field{
			real64("slew", &p.Speed.Slew, quantity.Number, 1e3, 1e10, "V/s, maximum rate of its output").orZero("no limit"),
			real64("second_pole", &p.Speed.Second, quantity.Hertz, 1e3, 1e10, "behind the pole that makes its gain-bandwidth product").orZero("none"),
		}})
	}
	return list
}

// loops reports whether the circuit may stand in a feedback loop.
func (k *Kind) loops() bool {
	p := Defaults()
	return slices.ContainsFunc(k.groups(&p), func(g Group) bool { return g.Name == "feedback" })
}

// Speed is what limits the speed of the amplifier in a feedback loop.
type Speed struct {
	Fitted bool
	Slew   float64 // maximum rate of its output, V/s; 0: none
	Second float64 // its second pole, Hz; 0: none
}

// BiasPart is why the bias part lags behind the sink.
type BiasPart struct {
	Fitted bool
	Store  float64 // J/K
	ToSink float64 // K/W, its way to the sink
}

// BiasConstant returns the time constant, s, by which the bias part lags behind the sink:
// its store times its two ways, to the sink and to the air, side by side. Of those in
// series the part that drops over the way to the air is the coupling, so that side by
// side they are the coupling times the way to the sink.
func (p *Parts) BiasConstant() float64 {
	if !p.BiasPart.Fitted {
		return 0
	}
	return p.BiasPart.Store * p.BiasPart.ToSink * p.Thermal.Coupling
}

// checkLimits refuses values that are legal one by one but not together.
func checkLimits(p *Parts) error {
	s, o, a := &p.PowerSupply, &p.OutputNetwork, &p.SafeArea
	switch {
	case s.Ripples() && s.Effective() > 1e6:
		return errors.New("power_supply.reservoir is too small for power_supply.mains: no rail is left between two crests")
	case o.Fitted && o.Henries == 0 && o.ZobelFarads == 0:
		return errors.New("output_network.coil and output_network.zobel_capacitance are both 0: none; leave the table out")
	case a.Fitted && a.BreakdownVolts > 0 && !(a.BreakdownVolts < a.Volts):
		return errors.New("safe_area.breakdown_voltage is not under safe_area.voltage; 0 stands for no second breakdown")
	case a.Fitted && (a.BreakdownVolts > 0) != (a.BreakdownCurrent > 0):
		return errors.New("of safe_area.breakdown_voltage and safe_area.breakdown_current one is 0: give both or neither")
	case a.Fitted && a.BreakdownVolts > 0 && !(a.BreakdownCurrent*a.Volts < a.Power):
		return errors.New("safe_area.breakdown_current at safe_area.voltage is not under safe_area.power; 0 V stands for no second breakdown")
	}
	return nil
}

// Undrawn says in words what of a stage its drawing leaves out.
func (p *Parts) Undrawn() []string {
	format := func(v float64, u quantity.Unit) string { return quantity.Format(v, u) }
	var list []string
	if s := &p.PowerSupply; s.Fitted {
		text := "each rail behind " + format(s.Ohms, quantity.Ohm)
		if s.Farads > 0 {
			text += ", with a reservoir of " + format(s.Farads, quantity.Farad)
		}
		if s.Ripples() {
			text += " charged at " + format(2*s.Mains, quantity.Hertz)
		}
		list = append(list, text)
	}
	if o := &p.OutputNetwork; o.Fitted && o.Henries > 0 {
		list = append(list, "a coil of "+format(o.Henries, quantity.Henry)+" in the way of the load")
	}
	if o := &p.OutputNetwork; o.Fitted && o.ZobelFarads > 0 {
		list = append(list, "a Zobel network of "+format(o.ZobelOhms, quantity.Ohm)+" and "+format(o.ZobelFarads, quantity.Farad)+" at the output")
	}
	if p.Stoppers.Fitted {
		list = append(list, "a stopper of "+format(p.Stoppers.Ohms, quantity.Ohm)+" before each output device")
	}
	if n := p.Parallel.count(); n > 1 {
		list = append(list, fmt.Sprintf("%d output devices in place of each, with a resistor each", n))
	}
	return list
}
