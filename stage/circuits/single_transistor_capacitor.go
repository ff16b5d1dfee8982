package circuits

import (
	"cmp"

	"quietcross/stage/drawing"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// The single transistor behind a capacitor is the practical form of one transistor: the signal
// comes through a capacitor, and one resistor from the supply feeds the base. The
// base rectifies the signal, which charges the capacitor and moves the bias;
// midband figures leave that out, for they hold the capacitor at its rest.
var _ = register(80, &Kind{
	Name:  "single-transistor-capacitor",
	Title: "one transistor behind a coupling capacitor, with an output transformer",
	About: "One device behind a coupling capacitor, its base fed by one resistor. The base rectifies " +
		"the signal, which charges the capacitor and moves the bias.",
	Demos: []string{"single-capacitor"},
	groups: func(p *Parts) []Group {
		return []Group{
			singleSupply(&p.Supply), signalSource(&p.Source),
			coupling("input", "from the source to the base", &p.Coupling.Input),
			transformer("output_transformer", "the transformer between collector and load", &p.Output),
			load(&p.Load), emitterResistors(&p.Emitter),
			{Name: "bias", Doc: "the bias part as built", Fields: []Field{
				real64("upper", &p.Tap.Upper, quantity.Ohm, 1, 1e7, "supply to base"),
			}},
			transistorLaw("upper", "law of the transistor", &p.Upper),
			thermal(&p.Thermal),
		}
	},
	check: func(p *Parts) error {
		return cmp.Or(checkSpan(capacitorSpan(p)), checkReflected(p))
	},
	build:       buildSingleTransistorCapacitor,
	draw:        drawSingleCapacitor,
	span:        capacitorSpan,
	trim:        tapTrim,
	driver:      driverDirect,
	MaximumBias: 12,
	Reference:   classACurrent,
	PeakCurrent: transformerPeak,
	States:      loneStates,
})

// capacitorSpan is an input that surely saturates a base behind its source.
func capacitorSpan(p *Parts) float64 {
	direct := *p
	direct.Input = Transformer{Ratio: 1}
	return inputTransformerSpan(&direct)
}

// buildSingleTransistorCapacitor puts a forced bias, like the capacitor's voltage
// that it stands for, between source and base. Behind a driver, whose collector has
// a voltage of its own, the capacitor stays, and the bias comes through a choke.
func buildSingleTransistorCapacitor(p *Parts, forced bool, t Temperatures) *Network {
	n, source, high := transformerStage(p)
	c := n.Circuit
	base, collector := c.Node("base"), c.Node("collector")
	n.BiasPlus, n.BiasMinus = base, network.Ground
	emitter := series(c, network.Ground, "emitter", p.Emitter.Ohms)
	c.Add(n.transistor("transistor", &p.Upper, network.NPN, t, atUpper, collector, base, emitter))
	n.outputTransformer(p, high, collector)
	if forced && !p.Driver.Fitted {
		n.Forced = []Share{{c.VoltageSource("bias", base, source, 0), 1}}
		return n
	}
	c.Add(network.Capacitor{A: source, B: base, Farads: p.Coupling.Input})
	if forced {
		n.choke(p, base)
		return n
	}
	c.Add(network.Resistor{A: high, B: base, Ohms: p.Tap.Upper})
	return n
}

func drawSingleCapacitor(s *sheet) {
	base := pt(16, 0)
	q := s.common(pt(26, 0))
	source := pt(7, 0)
	s.entrance(drawing.Point{}, source, "source")
	switch {
	case s.forced && s.hasDriver():
		s.Level(drawing.Part{Kind: drawing.Capacitor, Key: "coupling.input"}, source, base)
		s.choke(base)
	case s.forced:
		s.Level(drawing.Part{Kind: drawing.Source, Device: "bias", Share: 1, Flip: true}, source, base)
	default:
		s.Level(drawing.Part{Kind: drawing.Capacitor, Key: "coupling.input"}, source, base)
		top := pt(base.X, -9)
		s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "bias.upper", Label: drawing.LeftOf(drawing.Resistor, top, base)}, top, base)
		s.localRail(top)
	}
	s.Wire(base, q.Pin("base"))
	s.Shown("base", base, 0.7, 1.3, drawing.Start)
}
