package circuits

import "quietcross/stage/network"

// transformerPushPull is two common-emitter devices of one polarity between
// centre-tapped transformers, each taking one half of the wave. With the tap of
// the input transformer grounded (a bias of 0 V) both wait for half a volt and
// more, which leaves a dead zone at the crossover. A lone resistor from the supply to
// the tap biases them at rest but starves both bases when driven; a divider with a
// bypass capacitor, or a diode on the tap, is the usual practical form.
var transformerPushPull = &Kind{
	Name:  "transformer-push-pull",
	Title: "two transistors of one polarity between centre-tapped transformers",
	groups: func(p *Parts) []Group {
		return []Group{
			singleSupply(&p.Supply), signalSource(&p.Source),
			transformer("input_transformer", "the centre-tapped transformer before the bases", &p.Input),
			transformer("output_transformer", "the centre-tapped transformer between collectors and load", &p.Output),
			load(&p.Load), emitterResistors(&p.Emitter), tapBias(&p.Tap), diodeLaw(&p.Diode),
			transistorLaw("upper", "law of the device that takes the positive half", &p.Upper),
			transistorLaw("lower", "law of the device that takes the negative half", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	check:       checkTap,
	build:       buildTransformerPushPull,
	span:        inputTransformerSpan,
	trim:        tapTrim,
	driver:      driverTransformer,
	MaximumBias: 5,
	Reference:   oliverQuiescent,
	PeakCurrent: transformerPeak,
}

func buildTransformerPushPull(p *Parts, forced bool, t Temperatures) *Network {
	n, source, high := transformerStage(p)
	c := n.Circuit
	n.Outputs = []int{0, 1}
	b1, b2, tap := c.Node("upper base"), c.Node("lower base"), c.Node("tap")
	c1, c2 := c.Node("upper collector"), c.Node("lower collector")
	n.BiasPlus, n.BiasMinus = tap, network.Ground
	e1 := series(c, network.Ground, "upper emitter", p.Emitter.Ohms)
	e2 := series(c, network.Ground, "lower emitter", p.Emitter.Ohms)
	in, out := p.Input, p.Output
	c.Add(
		n.transistor("upper", &p.Upper, network.NPN, t, atUpper, c1, b1, e1),
		n.transistor("lower", &p.Lower, network.NPN, t, atLower, c2, b2, e2),
		network.Transformer{Magnetising: in.Magnetising, Saturation: in.Saturation, Windings: []network.Winding{
			n.primary(p, source),
			{A: b1, B: tap, Turns: 1, Ohms: in.SecondaryOhms},
			{A: tap, B: b2, Turns: 1, Ohms: in.SecondaryOhms},
		}},
		network.Transformer{Magnetising: out.Magnetising, Saturation: out.Saturation, Windings: []network.Winding{
			{A: high, B: c1, Turns: out.Ratio, Ohms: out.PrimaryOhms, Leakage: out.Leakage},
			{A: c2, B: high, Turns: out.Ratio, Ohms: out.PrimaryOhms, Leakage: out.Leakage},
			{A: n.Out, Turns: 1, Ohms: out.SecondaryOhms},
		}},
	)
	addTapBias(p, forced, t, n, high, tap)
	return n
}
