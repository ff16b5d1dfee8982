package circuits

import "quietcross/stage/network"

// complementaryMultiplier is the complementary pair with a transistor between its
// bases that holds a multiple of its own base-emitter voltage, VBE (1 + top/bottom),
// and can follow the sink's temperature. The signal comes to both bases through
// capacitors, so that at midband neither feed starves.
var complementaryMultiplier = &Kind{
	Name:  "complementary-multiplier",
	Title: "complementary pair biased by a VBE multiplier, driven through capacitors",
	Groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source),
			coupling("input", "from the input to each base", &p.Coupling.Input),
			load(&p.Load), emitterResistors(&p.Emitter), feeds(&p.Bias), multiplier(&p.Multiplier),
			transistorLaw("multiplier_device", "law of the multiplier's transistor", &p.Multiplier.Device),
			transistorLaw("upper", "law of the upper, NPN, device", &p.Upper),
			transistorLaw("lower", "law of the lower, PNP, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	Build:        buildComplementaryMultiplier,
	Span:         railsSpan,
	GreatestBias: 5,
	Reference:    oliverQuiescent,
	PeakCurrent:  railsPeak,
}

func buildComplementaryMultiplier(p *Parts, forced bool, t Temperatures) *Network {
	n, tap, high, low := capacitorDriven(p, forced)
	c := n.Circuit
	e1 := series(c, n.Out, "upper emitter", p.Emitter.Ohms)
	e2 := series(c, n.Out, "lower emitter", p.Emitter.Ohms)
	c.Add(
		n.transistor("upper", &p.Upper, network.NPN, t, atUpper, high, n.BiasPlus, e1),
		n.transistor("lower", &p.Lower, network.PNP, t, atLower, low, n.BiasMinus, e2),
	)
	if forced {
		n.force(tap)
		return n
	}
	addMultiplier(p, t, n, high, low)
	return n
}

// capacitorDriven begins a stage on two rails whose input reaches both ends of
// the bias port through capacitors; with a forced bias, whose source stands about
// the tap, it reaches the tap itself.
func capacitorDriven(p *Parts, forced bool) (n *Network, tap, high, low network.Node) {
	c := network.New()
	input, in := c.Drive("input", 0)
	high, positive := c.Drive("upper rail", p.Supply.Positive)
	low, negative := c.Drive("lower rail", -p.Supply.Negative)
	tap = series(c, input, "tap", p.Source.Ohms)
	n = &Network{
		Circuit: c, In: in, Out: c.Node("output"),
		Supplies: []network.Source{positive, negative}, Outputs: []int{0, 1},
		BiasPlus: c.Node("upper base"), BiasMinus: c.Node("lower base"),
	}
	n.loaded(&p.Load)
	if !forced {
		c.Add(
			network.Capacitor{A: tap, B: n.BiasPlus, Farads: p.Coupling.Input},
			network.Capacitor{A: tap, B: n.BiasMinus, Farads: p.Coupling.Input},
		)
	}
	return n, tap, high, low
}

// addMultiplier puts the feeds and the VBE multiplier across the bias port.
func addMultiplier(p *Parts, t Temperatures, n *Network, high, low network.Node) {
	c := n.Circuit
	base := c.Node("multiplier base")
	c.Add(
		network.Resistor{A: high, B: n.BiasPlus, Ohms: p.Bias.FeedUpper},
		network.Resistor{A: low, B: n.BiasMinus, Ohms: p.Bias.FeedLower},
		network.Resistor{A: n.BiasPlus, B: base, Ohms: p.Multiplier.Top},
		network.Resistor{A: base, B: n.BiasMinus, Ohms: p.Multiplier.Bottom},
		n.transistor("multiplier", &p.Multiplier.Device, network.NPN, t, atBias, n.BiasPlus, base, n.BiasMinus),
	)
}
