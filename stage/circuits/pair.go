package circuits

import (
	"quietcross/stage/device"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// What the complementary pairs share: two rails with the signal at the middle of the bias
// parts, a feedback amplifier in front where there is one, the bias port between the two
// bases, an ideal source across it or the feeds and the string of diodes with its
// trimmer, and the quiescent current that theory holds best.

// compoundPair begins a stage on two rails whose signal enters at the middle of
// its bias parts.
func compoundPair(p *Parts, forced bool) (n *Network, tap, high, low network.Node) {
	c := network.New()
	input, in := c.Drive("input", 0)
	high, positive := supplied(c, &p.PowerSupply, "upper rail", p.Supply.Positive)
	low, negative := supplied(c, &p.PowerSupply, "lower rail", -p.Supply.Negative)
	n = &Network{
		Circuit: c, In: in, Out: c.Node("output"), high: high, low: low,
		Supplies: []network.Source{positive, negative}, Outputs: []int{0, 1},
	}
	tap = n.amplified(&p.Feedback, &p.Speed, n.front(p, input, "source"))
	if p.Driver.Fitted {
		tap = n.coupled("tap", tap, p.Driver.Output)
	}
	n.port(tap, forced, &p.Bias)
	n.loaded(p)
	return n, tap, high, low
}

// feedbackOhms is the lower resistor of the feedback divider.
const feedbackOhms = 1e3

// amplified puts the feedback amplifier, where there is one, between a node and the
// stage, and returns the node that drives the stage.
func (n *Network) amplified(f *Feedback, speed *Speed, driven network.Node) network.Node {
	if f.Gain == 0 {
		return driven
	}
	c := n.Circuit
	out, tap, minus := c.Node("amplifier"), c.Node("tap"), n.Out
	if f.Closed > 1 {
		minus = c.Node("feedback")
		c.Add(
			network.Resistor{A: n.Out, B: minus, Ohms: (f.Closed - 1) * feedbackOhms},
			network.Resistor{A: minus, Ohms: feedbackOhms},
		)
	}
	amplifier := network.Amplifier{
		Plus: driven, Minus: minus, Out: out, Gain: f.Gain, Bandwidth: f.Bandwidth, Swing: f.Swing,
	}
	if speed.Fitted {
		c.Add(network.SlewedAmplifier{Amplifier: amplifier, Slew: speed.Slew, SecondPole: speed.Second})
	} else {
		c.Add(amplifier)
	}
	n.Amplifier = &Feed{Node: out, Meter: c.VoltageSource("amplifier", tap, out, 0)}
	return tap
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

// The ends of a trimmer's way, ohms: a trimmer across diodes that is next to a short
// circuit or to nothing, and one in series likewise.
const (
	acrossLeast, acrossMost = 0.1, 1e12
	seriesLeast, seriesMost = 1e-9, 1e4
)

// diodeTrim is the trimmer of a string of bias diodes. What stands in series when the
// trimming begins goes before one across comes in.
func diodeTrim(*Parts) *Trim {
	return &Trim{[]leg{{
		Trimmer: Trimmer{Key: "bias.trimmer_across", Name: "trimmer across the bias diodes", Unit: quantity.Ohm},
		from:    acrossLeast, to: acrossMost,
		set:    func(p *Parts, ohms float64) { p.Bias.Across, p.Bias.Series = ohms, 0 },
		fitted: func(p *Parts) (float64, bool) { return p.Bias.Across, p.Bias.Across > 0 },
	}, {
		Trimmer: Trimmer{Key: "bias.trimmer_series", Name: "trimmer in series with the bias diodes", Unit: quantity.Ohm},
		from:    seriesLeast, to: seriesMost,
		set:    func(p *Parts, ohms float64) { p.Bias.Across, p.Bias.Series = 0, ohms },
		fitted: func(p *Parts) (float64, bool) { return p.Bias.Series, p.Bias.Series > 0 },
	}}}
}
