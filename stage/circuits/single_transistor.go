package circuits

import (
	"quietcross/stage/drawing"
	"quietcross/stage/network"
)

// The single transistor is one common-emitter device between an input and an output
// transformer. Biased to half of its maximum current it works in class A all
// cycle; biased at its turn-on point it passes half of the wave.
var _ = register(70, &Kind{
	Name:  "single-transistor",
	Title: "one transistor between an input and an output transformer",
	About: "One device between two transformers. Biased to half of its maximum current it carries " +
		"the whole wave, in class A; biased at its turn-on point it passes one half of it.",
	Demos: []string{"single-class-a", "single-class-b"},
	groups: func(p *Parts) []Group {
		return []Group{
			singleSupply(&p.Supply), signalSource(&p.Source),
			transformer("input_transformer", "the transformer before the base", &p.Input),
			transformer("output_transformer", "the transformer between collector and load", &p.Output),
			load(&p.Load), emitterResistors(&p.Emitter), tapBias(&p.Tap), diodeLaw(&p.Diode),
			transistorLaw("upper", "law of the transistor", &p.Upper),
			thermal(&p.Thermal),
		}
	},
	check:       checkTap,
	build:       buildSingleTransistor,
	draw:        drawSingleTransistor,
	span:        inputTransformerSpan,
	trim:        tapTrim,
	driver:      driverTransformer,
	MaximumBias: 12,
	Reference:   classACurrent,
	PeakCurrent: transformerPeak,
	States:      loneStates,
})

// loneStates are the conditions of a lone device: it has no hand-over, and what theory
// holds best is class A.
var loneStates = map[string]string{
	"unbiased":     "cut off at rest",
	"under-biased": "below class A",
	"optimum":      "class A",
	"over-biased":  "hotter than class A",
}

func buildSingleTransistor(p *Parts, forced bool, t Temperatures) *Network {
	n, source, high := transformerStage(p)
	c := n.Circuit
	base, tap, collector := c.Node("base"), c.Node("tap"), c.Node("collector")
	n.BiasPlus, n.BiasMinus = tap, network.Ground
	emitter := series(c, network.Ground, "emitter", p.Emitter.Ohms)
	c.Add(
		n.transistor("transistor", &p.Upper, network.NPN, t, atUpper, collector, base, emitter),
		network.Transformer{Magnetising: p.Input.Magnetising, Saturation: p.Input.Saturation, Windings: []network.Winding{
			n.primary(p, source),
			{A: base, B: tap, Turns: 1, Ohms: p.Input.SecondaryOhms},
		}},
	)
	n.outputTransformer(p, high, collector)
	addTapBias(p, forced, t, n, high, tap)
	return n
}

func drawSingleTransistor(s *sheet) {
	t := s.inputTransformer(false)
	q := s.common(pt(23, -4))
	s.Wire(t.Pin("s1"), q.Pin("base"))
	s.Shown("base", t.Pin("s1"), 0.8, 1, drawing.Start)
	tap := t.Pin("s2").Plus(pt(0, 4))
	first := tap.Plus(pt(10, 0))
	s.Wire(t.Pin("s2"), tap, first)
	s.Shown("tap", tap, 0.6, -0.8, drawing.Start)
	s.tapBias(first, s.tapDepth(6), 7)
}
