package circuits

import "quietcross/stage/network"

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
// bypass (textbook, voltage-divider bias). Its collector is fed by a resistor or,
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
