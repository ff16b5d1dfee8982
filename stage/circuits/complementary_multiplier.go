package circuits

import (
	"quietcross/stage/drawing"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// The complementary pair with a multiplier is the complementary pair with a transistor between its
// bases that holds a multiple of its own base-emitter voltage, VBE (1 + top/bottom),
// and can follow the sink's temperature. The signal comes to both bases through
// capacitors, so that at midband neither feed starves.
var _ = register(20, &Kind{
	Name:  "complementary-multiplier",
	Title: "complementary pair biased by a VBE multiplier, driven through capacitors",
	About: "The complementary pair with a transistor between its bases that holds a multiple of its " +
		"own base-emitter voltage: one resistor sets the bias, and on the heatsink it follows the " +
		"devices' temperature.",
	Demos: []string{"pair-12w-multiplier"},
	groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source),
			coupling("input", "from the input to each base", &p.Coupling.Input),
			load(&p.Load), emitterResistors(&p.Emitter), feeds(&p.Bias), multiplier(&p.Multiplier),
			smallTransistorLaw("multiplier_device", "law of the multiplier's transistor", &p.Multiplier.Device),
			transistorLaw("upper", "law of the upper, NPN, device", &p.Upper),
			transistorLaw("lower", "law of the lower, PNP, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	build:       buildComplementaryMultiplier,
	draw:        drawMultiplier,
	span:        railsSpan,
	trim:        multiplierTrim,
	driver:      driverDirect,
	MaximumBias: 5,
	Reference:   oliverQuiescent,
	PeakCurrent: railsPeak,
})

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
		n.forceAbout(tap, p)
		return n
	}
	n.addMultiplier(p, t)
	return n
}

// capacitorDriven begins a stage on two rails whose input reaches both ends of
// the bias port through capacitors; with a forced bias, whose source stands about
// the tap, it reaches the tap itself. From a driver it goes there through both
// capacitors in parallel, for the ideal source joins what they drive.
func capacitorDriven(p *Parts, forced bool) (n *Network, tap, high, low network.Node) {
	c := network.New()
	input, in := c.Drive("input", 0)
	high, positive := supplied(c, &p.PowerSupply, "upper rail", p.Supply.Positive)
	low, negative := supplied(c, &p.PowerSupply, "lower rail", -p.Supply.Negative)
	n = &Network{Circuit: c, In: in, high: high, low: low}
	tap = n.front(p, input, "tap")
	n.Out = c.Node("output")
	n.Supplies, n.Outputs = []network.Source{positive, negative}, []int{0, 1}
	n.BiasPlus, n.BiasMinus = c.Node("upper base"), c.Node("lower base")
	n.loaded(p)
	switch {
	case forced && p.Driver.Fitted:
		tap = n.coupled("tap", tap, 2*p.Coupling.Input)
	case !forced:
		c.Add(
			network.Capacitor{A: tap, B: n.BiasPlus, Farads: p.Coupling.Input},
			network.Capacitor{A: tap, B: n.BiasMinus, Farads: p.Coupling.Input},
		)
	}
	return n, tap, high, low
}

// addMultiplier puts the feeds and the VBE multiplier across the bias port.
func (n *Network) addMultiplier(p *Parts, t Temperatures) {
	c := n.Circuit
	base := c.Node("multiplier base")
	n.feeds(&p.Bias)
	c.Add(
		network.Resistor{A: n.BiasPlus, B: base, Ohms: p.Multiplier.Top},
		network.Resistor{A: base, B: n.BiasMinus, Ohms: p.Multiplier.Bottom},
		n.transistor("multiplier", &p.Multiplier.Device, network.NPN, t, atBias, n.BiasPlus, base, n.BiasMinus),
	)
}

// multiplierTrim is the multiplier's resistor from base to emitter: where a trimmer is
// put, for one that opens there leaves the least bias and not the most (common
// practice).
func multiplierTrim(*Parts) *Trim {
	return &Trim{[]leg{{
		Trimmer: Trimmer{Key: "multiplier.bottom", Name: "multiplier's resistor from base to emitter", Unit: quantity.Ohm},
		from:    1e6, to: 1,
		set:    func(p *Parts, ohms float64) { p.Multiplier.Bottom = ohms },
		fitted: func(p *Parts) (float64, bool) { return p.Multiplier.Bottom, true },
	}}}
}

func drawMultiplier(s *sheet) {
	const outputs, reach, rail = 36, 9, 16
	from := s.multiplierInput(outputs, reach, rail)
	s.followers(from, outputs, reach, rail)
	s.multiplierOutput(outputs)
}

// multiplierInput draws what stands before the output devices of a pair biased by
// a multiplier, and its rails. It returns the column from which the bases are fed.
func (s *sheet) multiplierInput(outputs, reach, rail int) int {
	const tap, coupled = 7, 17
	input := drawing.Point{}
	if s.hasDriver() {
		input = pt(-6, 0)
	}
	if s.forced {
		return s.forcedInput(input, outputs, reach, rail)
	}
	s.entrance(input, pt(tap, 0), "tap")
	for _, half := range sides {
		y := half.side * reach
		s.Wire(pt(tap, 0), pt(tap, y))
		s.Level(drawing.Part{Kind: drawing.Capacitor, Key: "coupling.input"}, pt(tap, y), pt(coupled, y))
	}
	s.multiplier(coupled+1, reach, rail)
	s.rails(coupled+6, outputs, rail)
	return coupled
}

// forcedInput draws the same with an ideal source about the tap, to which a driver
// reaches through both capacitors in parallel.
func (s *sheet) forcedInput(input drawing.Point, outputs, reach, rail int) int {
	const bias = 23
	tap := pt(bias, 0)
	if s.hasDriver() {
		coupled := pt(11, 0)
		s.entrance(input, coupled, "")
		s.Level(drawing.Part{Kind: drawing.Capacitor, Value: 2 * s.parts.Coupling.Input, Unit: "F"}, coupled, tap)
		s.Shown("tap", tap, 0.7, 0, drawing.Start)
	} else {
		s.entrance(input, tap, "tap")
	}
	s.portBias(tap, reach)
	s.feeds(bias, reach, rail)
	s.rails(s.railsFrom(bias, outputs), outputs, rail)
	return bias
}

// multiplier draws the VBE multiplier: its divider in one column and its transistor
// five units to the right, in the column of the feeds.
func (s *sheet) multiplier(divider, reach, rail int) {
	middle, column := pt(divider, 0), divider+5
	top, bottom := pt(divider, -reach), pt(divider, reach)
	upper := drawing.LabelAt(pt(divider, -reach/2), -0.9, 0, drawing.End)
	lower := drawing.LabelAt(pt(divider, reach/2), -0.9, 0, drawing.End)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "multiplier.top", Label: upper}, top, middle)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "multiplier.bottom", Label: lower}, middle, bottom)
	s.Node("multiplier base", middle)
	q := s.transistor(drawing.NPN, "multiplier", pt(column-1, 0))
	s.Wire(middle, q.Pin("base"))
	s.Wire(q.Pin("collector"), pt(column, -reach))
	s.Wire(q.Pin("emitter"), pt(column, reach))
	s.feeds(column, reach, rail)
	s.Shown("upper base", pt(column, -reach), 1.3, -0.8, drawing.Start)
	s.Shown("lower base", pt(column, reach), 1.3, 0.8, drawing.Start)
}

// multiplierOutput draws the line of the output and the load.
func (s *sheet) multiplierOutput(outputs int) {
	load := pt(outputs+12, 0)
	s.Wire(pt(outputs, 0), load)
	s.load(load)
}
