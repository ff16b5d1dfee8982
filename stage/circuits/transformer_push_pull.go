package circuits

import (
	"quietcross/stage/drawing"
	"quietcross/stage/network"
)

// The transformer push-pull is two common-emitter devices of one polarity between
// centre-tapped transformers, each taking one half of the wave. With the tap of
// the input transformer grounded (a bias of 0 V) both wait for half a volt and
// more, which leaves a dead zone at the crossover. A lone resistor from the supply to
// the tap biases them at rest but starves both bases when driven; a divider with a
// bypass capacitor, or a diode on the tap, is the usual practical form.
var _ = register(90, &Kind{
	Name:  "transformer-push-pull",
	Title: "two transistors of one polarity between centre-tapped transformers",
	About: "Two devices of one polarity between centre-tapped transformers, each with one half of " +
		"the wave. How the tap of the input transformer is biased decides over the dead zone " +
		"between them.",
	Demos: []string{"push-pull-dead-zone", "push-pull-resistor", "push-pull-divider", "push-pull-diode", "push-pull-driven"},
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
	draw:        drawPushPull,
	span:        inputTransformerSpan,
	trim:        tapTrim,
	driver:      driverTransformer,
	MaximumBias: 5,
	Reference:   oliverQuiescent,
	PeakCurrent: transformerPeak,
})

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

func drawPushPull(s *sheet) {
	const first = 20
	depth := s.tapDepth(6)
	reach := depth + 2
	column := first + 10
	if n := len(s.tapParts()); n > 1 {
		column += tapColumns[n-1]
	}
	in := s.inputTransformer(true)
	tap := in.Pin("st")
	s.Wire(tap, pt(first, 0))
	s.Shown("tap", tap, 0.6, -0.8, drawing.Start)
	s.tapBias(pt(first, 0), depth, 6)
	out := s.loadTransformer(pt(column+18, 0), true)
	s.pushPullHalf("upper", -1, column, reach, in.Pin("s1"), out.Pin("p1"))
	s.pushPullHalf("lower", 1, column, reach, in.Pin("s2"), out.Pin("p2"))
	earth := pt(column+3, 0)
	s.Wire(pt(column, 0), earth)
	s.ground(earth)

	supply := pt(column+12, -1)
	s.Wire(out.Pin("pt"), pt(supply.X, 0), supply)
	s.rail("supply", supply, 0, -2.5, drawing.Middle)
}

// pushPullHalf draws one device between its ends of the two transformers.
func (s *sheet) pushPullHalf(name string, side, column, reach int, secondary, primary drawing.Point) {
	q := s.Put(drawing.Part{
		Kind: drawing.NPN, Device: name, At: pt(column-1, side*reach), Flip: side > 0,
		Label: drawing.Label{At: drawing.Place{X: float64(column) + 1.6, Y: float64(side * reach)}, Align: drawing.Start},
	})
	s.Wire(secondary, pt(secondary.X, side*reach), q.Pin("base"))
	s.Shown(name+" base", q.Pin("base"), -0.5, 0.8*float64(side), drawing.End)
	s.Wire(q.Pin("collector"), pt(primary.X, q.Pin("collector").Y), primary)
	s.Shown(name+" collector", q.Pin("collector"), -0.6, 0.5*float64(side), drawing.End)
	s.leg(name+" emitter", q.Pin("emitter"), pt(column, 0))
}
