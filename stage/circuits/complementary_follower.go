package circuits

import (
	"quietcross/stage/device"
	"quietcross/stage/network"
)

// complementaryFollower is the transformerless class-AB pair: an NPN follower
// from the upper rail and a PNP follower from the lower one into one load, each
// through an emitter resistor. The bias parts are a feed resistor from each rail
// and diodes between the bases, with the signal at their middle; as the output
// swings toward a rail that side's feed has less and less voltage across it,
// and starves the base.
var complementaryFollower = &Kind{
	Name:  "complementary-follower",
	Title: "complementary pair of emitter followers on two rails",
	groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source), load(&p.Load), emitterResistors(&p.Emitter), feedbackLoop(&p.Feedback),
			diodeBias(&p.Bias), diodeLaw(&p.Diode),
			transistorLaw("upper", "law of the upper, NPN, device", &p.Upper),
			transistorLaw("lower", "law of the lower, PNP, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	build:       buildComplementaryFollower,
	span:        railsSpan,
	trim:        diodeTrim,
	driver:      driverCapacitor,
	MaximumBias: 5,
	Reference:   oliverQuiescent,
	PeakCurrent: railsPeak,
}

// railsSpan is an input well beyond either rail.
func railsSpan(p *Parts) float64 {
	span := max(p.Supply.Positive, p.Supply.Negative) + 5
	if p.Feedback.Gain > 0 {
		span /= p.Feedback.Closed
	}
	return span
}

// railsPeak is the current of a follower whose load is driven to the weaker rail.
func railsPeak(p *Parts) float64 {
	return min(p.Supply.Positive, p.Supply.Negative) / (p.Load.Ohms + p.Emitter.Ohms)
}

// oliverQuiescent is the quiescent current at which a pair's incremental output
// resistance is the same at rest and at full swing: IQ RE = n kT/q, with RE the
// whole resistance in each emitter (B. M. Oliver, Hewlett-Packard Journal,
// February 1971). Without emitter resistance there is none, and it returns 0.
func oliverQuiescent(p *Parts, t Temperatures) float64 {
	re := p.Emitter.Ohms + (p.Upper.EmitterOhms+p.Lower.EmitterOhms)/2
	if re == 0 {
		return 0
	}
	emission := (p.Upper.Emission + p.Lower.Emission) / 2
	return emission * device.ThermalVoltage((t.Upper+t.Lower)/2) / re
}

func buildComplementaryFollower(p *Parts, forced bool, t Temperatures) *Network {
	n, tap, high, low := compoundPair(p, forced)
	c, out := n.Circuit, n.Out
	e1 := series(c, out, "upper emitter", p.Emitter.Ohms)
	e2 := series(c, out, "lower emitter", p.Emitter.Ohms)
	c.Add(
		n.transistor("upper", &p.Upper, network.NPN, t, atUpper, high, n.BiasPlus, e1),
		n.transistor("lower", &p.Lower, network.PNP, t, atLower, low, n.BiasMinus, e2),
	)
	if forced {
		n.forceAbout(tap, p)
		return n
	}
	n.addDiodeBias(p, t, tap)
	return n
}

// port names the two bases between which the bias stands; without diodes or trimmer
// on a side its base is the tap.
func (n *Network) port(tap network.Node, forced bool, b *Bias) {
	n.BiasPlus, n.BiasMinus = tap, tap
	if forced || b.Diodes > 1 || b.Shown() > 0 {
		n.BiasPlus = n.Circuit.Node("upper base")
	}
	if forced || b.Diodes > 0 || b.Shown() > 0 {
		n.BiasMinus = n.Circuit.Node("lower base")
	}
}

// force puts an ideal bias source across the bias port, half of it on each side of
// a tap.
func (n *Network) force(tap network.Node) {
	n.Forced = []Share{
		{n.Circuit.VoltageSource("upper bias", n.BiasPlus, tap, 0), 0.5},
		{n.Circuit.VoltageSource("lower bias", tap, n.BiasMinus, 0), 0.5},
	}
}

// feeds puts a resistor from each supply to its end of the bias port.
func (n *Network) feeds(b *Bias) {
	n.Circuit.Add(
		network.Resistor{A: n.high, B: n.BiasPlus, Ohms: b.FeedUpper},
		network.Resistor{A: n.low, B: n.BiasMinus, Ohms: b.FeedLower},
	)
}

// wireOhms is the resistance, ohms, under which half a trimmer is told in the diodes'
// own resistance: so small a conductance's reciprocal between two nodes of its own
// would drown the current in rounding.
const wireOhms = 1e-3

// Shown returns half of the trimmer in series with the diodes, ohms, where it is big
// enough to be an element of the circuit, and 0 where it is not.
func (b *Bias) Shown() float64 {
	if b.Series/2 < wireOhms {
		return 0
	}
	return b.Series / 2
}

// addDiodeBias puts in the feeds and, on each side of the tap, half of the diodes and
// of a trimmer in series with them; a trimmer across joins the bases.
func (n *Network) addDiodeBias(p *Parts, t Temperatures, tap network.Node) {
	b := &p.Bias
	n.feeds(b)
	above := b.Diodes / 2
	if end, inside := n.trimmed("upper diodes", n.BiasPlus, tap, above, b); above > 0 {
		d := n.diodes("upper diodes", &p.Diode, above, t, end, tap)
		d.SeriesOhms += inside
		n.Circuit.Add(d)
	}
	below := b.Diodes - above
	if end, inside := n.trimmed("lower diodes", n.BiasMinus, tap, below, b); below > 0 {
		d := n.diodes("lower diodes", &p.Diode, below, t, tap, end)
		d.SeriesOhms += inside
		n.Circuit.Add(d)
	}
	if b.Across > 0 && n.BiasPlus != n.BiasMinus {
		n.Circuit.Add(network.Resistor{A: n.BiasPlus, B: n.BiasMinus, Ohms: b.Across})
	}
}

// trimmed puts half of a trimmer in series between a base and its diodes, or the tap
// where that side has none. It returns the node at the diodes, which has the name
// given, and what of the trimmer is to be told in their own resistance, ohms.
func (n *Network) trimmed(name string, base, tap network.Node, diodes int, b *Bias) (end network.Node, inside float64) {
	half := b.Shown()
	if diodes == 0 {
		if half > 0 {
			n.Circuit.Add(network.Resistor{A: base, B: tap, Ohms: half})
		}
		return tap, 0
	}
	return series(n.Circuit, base, name, half), b.Series/2 - half
}
