package circuits

import (
	"errors"
	"fmt"
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
