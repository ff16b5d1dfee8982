package circuits

import "quietcross/stage/network"

// compoundPair begins a stage on two rails whose signal enters at the middle of
// its bias parts.
func compoundPair(p *Parts, forced bool) (n *Network, tap, high, low network.Node) {
	c := network.New()
	input, in := c.Drive("input", 0)
	high, positive := c.Drive("upper rail", p.Supply.Positive)
	low, negative := c.Drive("lower rail", -p.Supply.Negative)
	n = &Network{
		Circuit: c, In: in, Out: c.Node("output"), high: high, low: low,
		Supplies: []network.Source{positive, negative}, Outputs: []int{0, 1},
	}
	tap = n.amplified(&p.Feedback, n.front(p, input, "source"))
	if p.Driver.Fitted {
		tap = n.coupled("tap", tap, p.Driver.Output)
	}
	n.port(tap, forced, &p.Bias)
	n.loaded(&p.Load)
	return n, tap, high, low
}

// feedbackOhms is the lower resistor of the feedback divider.
const feedbackOhms = 1e3

// amplified puts the feedback amplifier, where there is one, between a node and the
// stage, and returns the node that drives the stage.
func (n *Network) amplified(f *Feedback, driven network.Node) network.Node {
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
	c.Add(network.Amplifier{
		Plus: driven, Minus: minus, Out: out, Gain: f.Gain, Bandwidth: f.Bandwidth, Swing: f.Swing,
	})
	n.Amplifier = &Feed{Node: out, Meter: c.VoltageSource("amplifier", tap, out, 0)}
	return tap
}
