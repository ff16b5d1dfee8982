package circuits

import (
	"errors"
	"fmt"
	"math"

	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// A class A driver may stand before every circuit: one transistor in common emitter, whose
// collector feeds the stage through a capacitor or the input transformer. This is its
// network, its tables in a stage file, its state at rest by the textbook's estimate, and
// the refusals that follow from that.

// driverCoupling is the way from a driver into the stage behind it.
type driverCoupling uint8

const (
	driverDirect      driverCoupling = iota // collector to the stage's own input capacitor
	driverCapacitor                         // through a capacitor of the driver's own
	driverTransformer                       // the input transformer's primary in the collector
)

// front returns the node that drives the stage: the source behind its resistance,
// which has the name given, or the collector of the driver, which [Kind.Build] puts
// between.
func (n *Network) front(p *Parts, input network.Node, name string) network.Node {
	if p.Driver.Fitted {
		return n.Circuit.Node("driver collector")
	}
	return series(n.Circuit, input, name, p.Source.Ohms)
}

// coupled puts a capacitor behind a node and returns the node behind that.
func (n *Network) coupled(name string, from network.Node, farads float64) network.Node {
	to := n.Circuit.Node(name)
	n.Circuit.Add(network.Capacitor{A: from, B: to, Farads: farads})
	return to
}

// addDriver puts the driver between source and stage: a transistor in common emitter
// whose base a divider holds, with a resistor in its emitter that a capacitor may
// bypass (Boylestad and Nashelsky, Electronic Devices and Circuit Theory, voltage-divider
// bias). Its collector is fed by a resistor or,
// through the primary, from the supply itself.
func (n *Network) addDriver(coupling driverCoupling, p *Parts, t Temperatures) {
	c, d := n.Circuit, &p.Driver
	source := series(c, c.Node("input"), "source", p.Source.Ohms)
	collector := c.Node("driver collector")
	base := n.coupled("driver base", source, d.Input)
	emitter := c.Node("driver emitter")
	foot := series(c, emitter, "driver foot", d.Degeneration)
	c.Add(
		network.Resistor{A: n.high, B: base, Ohms: d.DividerUpper},
		network.Resistor{A: base, B: n.low, Ohms: d.DividerLower},
		network.Resistor{A: foot, B: n.low, Ohms: d.Emitter},
		n.transistor("driver", &d.Device, network.NPN, t, atDriver, collector, base, emitter),
	)
	if d.Bypass > 0 {
		c.Add(network.Capacitor{A: foot, B: n.low, Farads: d.Bypass})
	}
	load := d.Collector
	if coupling == driverTransformer {
		load = d.Damping
	}
	c.Add(network.Resistor{A: n.high, B: collector, Ohms: load})
}

// primary is the input transformer's primary: from the source to ground, or in the
// driver's collector, where it starts at the supply so that the output keeps its
// sign.
func (n *Network) primary(p *Parts, driven network.Node) network.Winding {
	w := network.Winding{A: driven, Turns: p.Input.Ratio, Ohms: p.Input.PrimaryOhms, Leakage: p.Input.Leakage}
	if p.Driver.Fitted {
		w.A, w.B = n.high, driven
	}
	return w
}

// forceAbout puts an ideal bias source across the bias port of a pair, in place of
// what stands between the bases. Behind a driver's capacitor the feeds stay, for
// they are what holds the bases between the supplies.
func (n *Network) forceAbout(tap network.Node, p *Parts) {
	if p.Driver.Fitted {
		n.feeds(&p.Bias)
	}
	n.force(tap)
}

// choke forces the bias of a base behind the driver's coupling capacitor, in place of
// the resistor from the supply: an ideal source through a coil without resistance,
// so that the base's mean voltage is that of the source whatever it draws. The coil
// L = C RC^2 makes with the capacitor C and the driver's collector resistor RC a
// resonance of quality 1 about the capacitor's own corner when the base takes
// nothing, and one damped more when it does.
func (n *Network) choke(p *Parts, base network.Node) {
	c, feed := n.Circuit, n.Circuit.Node("choke")
	henries := p.ChokeHenries()
	c.Add(network.Inductor{A: feed, B: base, Henries: henries})
	n.Forced = []Share{{c.VoltageSource("bias", feed, network.Ground, 0), 1}}
}

// ChokeHenries is the coil through which an ideal bias reaches a base behind a
// driver's coupling capacitor, H.
func (p *Parts) ChokeHenries() float64 {
	return p.Coupling.Input * p.Driver.Collector * p.Driver.Collector
}

// driverGroups are the optional tables of a driver.
func driverGroups(coupling driverCoupling, p *Parts) []Group {
	d := &p.Driver
	fields := []Field{
		real64("divider_upper", &d.DividerUpper, quantity.Ohm, 10, 1e7, "upper supply to base"),
		real64("divider_lower", &d.DividerLower, quantity.Ohm, 10, 1e7, "base to lower supply"),
		real64("emitter", &d.Emitter, quantity.Ohm, 1, 1e5, "to the lower supply, the part that may be bypassed"),
		real64("degeneration", &d.Degeneration, quantity.Ohm, 0.1, 1e4, "between the emitter and that resistor, never bypassed").orZero("none"),
		real64("bypass", &d.Bypass, quantity.Farad, 1e-9, 1, "capacitor across the emitter resistor").orZero("none"),
		real64("input_capacitor", &d.Input, quantity.Farad, 1e-9, 1, "source to base"),
	}
	switch coupling {
	case driverTransformer:
		fields = append(fields, real64("damping", &d.Damping, quantity.Ohm, 10, 1e5,
			"across the input transformer's primary, which stands in the collector; it takes the current over where the bases draw none"))
	case driverCapacitor:
		fields = append(fields, driverCollector(d), real64("output_capacitor", &d.Output, quantity.Farad, 1e-9, 1, "collector to tap"))
	case driverDirect:
		fields = append(fields, driverCollector(d))
	}
	law := smallTransistorLaw("driver_device", "law of the transistor of the class A driver, NPN", &d.Device)
	law.Fitted = &d.Fitted
	return []Group{{
		Name: "driver", Fitted: &d.Fitted, Fields: fields,
		Doc: "the class A stage between source and output stage, one transistor in common emitter; optional",
	}, law}
}

func driverCollector(d *Driver) Field {
	return real64("collector", &d.Collector, quantity.Ohm, 1, 1e6, "upper supply to collector")
}

// checkDriver refuses a driver that is there twice, is driven by nothing or stands
// still.
func (k *Kind) checkDriver(p *Parts) error {
	if k.loops() && p.Feedback.Gain > 0 {
		return errors.New("driver and feedback.open_loop_gain are both there: the amplifier of the feedback loop is itself the driver; leave one of them out")
	}
	span := quantity.Range{Unit: quantity.Volt, Min: 0, Max: 1e4}
	if err := span.Check(threeDigits(driverSpan(p))); err != nil {
		return fmt.Errorf("source.resistance, driver.divider_upper and driver.divider_lower ask for an input to drive the driver fully: %w", err)
	}
	total := p.Supply.total()
	volts, _ := p.Driver.baseVolts(total)
	base := quantity.Range{Unit: quantity.Volt, Min: 0.5, Max: total}
	if err := base.Check(threeDigits(volts)); err != nil {
		return fmt.Errorf("driver.divider_upper and driver.divider_lower put the base above the lower supply, so that the driver hardly conducts: %w", err)
	}
	if err := k.checkTurnOff(p); err != nil {
		return err
	}
	if saturated, load := k.saturates(p); saturated {
		return fmt.Errorf("driver is saturated at rest: driver.divider_upper, driver.divider_lower and driver.emitter ask for about %s, "+
			"which the supply of %s does not drive through %s in the collector and %s in the emitter; lower that current or those resistances",
			quantity.Format(threeDigits(p.Driver.rest(total)), quantity.Ampere), quantity.Format(total, quantity.Volt),
			quantity.Format(threeDigits(load), quantity.Ohm), quantity.Format(p.Driver.Emitter+p.Driver.Degeneration, quantity.Ohm))
	}
	return nil
}

// threeDigits rounds an estimate to what it says.
func threeDigits(v float64) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	scale := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

// checkTurnOff bounds the voltage that the input transformer makes on either side when
// the driver turns off the current that the primary holds.
func (k *Kind) checkTurnOff(p *Parts) error {
	if k.driver != driverTransformer {
		return nil
	}
	legal := quantity.Range{Unit: quantity.Volt, Min: 0, Max: 1e3}
	volts := p.Driver.rest(p.Supply.total()) * p.Driver.Damping
	if err := legal.Check(threeDigits(volts * max(1, 1/p.Input.Ratio))); err != nil {
		return fmt.Errorf("driver.damping and the driver's direct current make a voltage on the input transformer when it turns off that no transistor stands: %w", err)
	}
	return nil
}

// junctionVolts is a base-emitter voltage for estimates (common practice).
const junctionVolts = 0.7

// total is the voltage between the supplies, V.
func (s *Supply) total() float64 { return s.Positive + s.Negative }

// baseVolts is the open voltage of the base divider above the lower supply, V, and
// its resistance.
func (d *Driver) baseVolts(total float64) (volts, ohms float64) {
	sum := d.DividerUpper + d.DividerLower
	return total * d.DividerLower / sum, d.DividerUpper * d.DividerLower / sum
}

// rest estimates the driver's emitter current at rest, A: what the divider's voltage
// less a junction's drives through the emitter resistors and, by the base current,
// the divider (Boylestad and Nashelsky, Electronic Devices and Circuit Theory, exact
// analysis of voltage-divider bias).
func (d *Driver) rest(total float64) float64 {
	volts, ohms := d.baseVolts(total)
	if d.Device.ForwardGain > 0 {
		ohms /= d.Device.ForwardGain + 1
	} else {
		ohms = 0
	}
	return max(0, volts-junctionVolts) / (d.Emitter + d.Degeneration + ohms)
}

// driverSpan is an input that surely takes the driver from cut-off to saturation: no
// base moves by more than the whole supply, and the source's resistance loses to the
// divider and to the base current.
func driverSpan(p *Parts) float64 {
	total := p.Supply.total()
	_, divider := p.Driver.baseVolts(total)
	loss := 1 + p.Source.Ohms/divider
	if gain := p.Driver.Device.ForwardGain; gain > 0 {
		loss += p.Source.Ohms / (gain * (p.Driver.Emitter + p.Driver.Degeneration))
	}
	return (total + 2*junctionVolts) * loss
}

// saturates reports whether the estimated rest leaves the driver no voltage, and the
// direct resistance of its collector's load, ohms.
func (k *Kind) saturates(p *Parts) (bool, float64) {
	d := &p.Driver
	load := d.Collector
	if k.driver == driverTransformer {
		parallel := 1/d.Damping + 1/max(p.Input.PrimaryOhms, math.SmallestNonzeroFloat64)
		load = 1 / parallel
	}
	total := p.Supply.total()
	return d.rest(total)*(load+d.Emitter+d.Degeneration) > total, load
}
