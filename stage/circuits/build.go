package circuits

import (
	"quietcross/stage/device"
	"quietcross/stage/network"
)

// at picks one of the temperatures.
type at func(t Temperatures) float64

func atUpper(t Temperatures) float64  { return t.Upper }
func atLower(t Temperatures) float64  { return t.Lower }
func atDriver(t Temperatures) float64 { return t.Driver }
func atBias(t Temperatures) float64   { return t.Bias }

// SetTemperatures takes the devices of the network to other junction temperatures.
// It reaches every solver of the network's circuit, and holds from their next step.
func (n *Network) SetTemperatures(t Temperatures) {
	for _, set := range n.sensors {
		set(t)
	}
}

// transistor makes the network element of a device of the stage.
func (n *Network) transistor(name string, d *Transistor, polarity network.Polarity, t Temperatures, where at, c, b, e network.Node) *network.Bipolar {
	law, rise := d.law(), d.Rise
	q := &network.Bipolar{
		Name: name, Collector: c, Base: b, Emitter: e, Polarity: polarity,
		CollectorOhms: law.CollectorOhms, BaseOhms: law.BaseOhms, EmitterOhms: law.EmitterOhms,
		TransitTime: d.TransitTime, BaseEmitterFarads: d.BaseEmitterFarads, BaseCollectorFarads: d.BaseCollectorFarads,
	}
	n.sense(t, func(t Temperatures) { q.Law = law.At(where(t) + rise) })
	return q
}

// sense registers a device's temperature and sets it.
func (n *Network) sense(t Temperatures, set func(Temperatures)) {
	n.sensors = append(n.sensors, set)
	set(t)
}

// diodes makes the network element of count equal diodes in series, count >= 1.
func (n *Network) diodes(name string, d *Diode, count int, t Temperatures, anode, cathode network.Node) *network.Diode {
	law := d.law()
	e := &network.Diode{Name: name, Anode: anode, Cathode: cathode, SeriesOhms: law.Series * float64(count)}
	n.sense(t, func(t Temperatures) { e.Law = law.At(atBias(t)).InSeries(count) })
	return e
}

// series joins two nodes by a resistance, which may be zero: then it returns the
// first node for both.
func series(c *network.Circuit, from network.Node, name string, ohms float64) network.Node {
	if ohms == 0 {
		return from
	}
	to := c.Node(name)
	c.Add(network.Resistor{A: from, B: to, Ohms: ohms})
	return to
}

// loaded puts the load between the output and ground, behind a source of no volts
// that measures its current. A voice-coil inductance without a resonance stands in
// series with the resistance.
// Before it stands the output network, where there is one.
func (n *Network) loaded(p *Parts) {
	c, l := n.Circuit, &p.Load
	n.speaker = n.terminal(&p.OutputNetwork)
	at := c.Node("load")
	n.Load = c.VoltageSource("load", at, n.speaker, 0)
	if law, ok := l.Speaker(); ok {
		c.Add(network.Loudspeaker{A: at, SpeakerLaw: law})
		return
	}
	if l.Henries > 0 {
		coil := c.Node("voice coil")
		c.Add(network.Inductor{A: at, B: coil, Henries: l.Henries, Parasitic: true})
		at = coil
	}
	c.Add(network.Resistor{A: at, Ohms: l.Ohms})
}

// roomVolts is kT/q at room temperature.
var roomVolts = device.ThermalVoltage(room)

// room is the temperature at which part values hold.
const room = device.RoomKelvin
