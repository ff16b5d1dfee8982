package circuits

import (
	"cmp"

	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// singleTransistorCapacitor is the practical form of one transistor: the signal
// comes through a capacitor, and one resistor from the supply feeds the base. The
// base rectifies the signal, which charges the capacitor and moves the bias;
// midband figures leave that out, for they hold the capacitor at its rest.
var singleTransistorCapacitor = &Kind{
	Name:  "single-transistor-capacitor",
	Title: "one transistor behind a coupling capacitor, with an output transformer",
	Groups: func(p *Parts) []Group {
		return []Group{
			singleSupply(&p.Supply), signalSource(&p.Source),
			coupling("input", "from the source to the base", &p.Coupling.Input),
			transformer("output_transformer", "the transformer between collector and load", &p.Output),
			load(&p.Load), emitterResistors(&p.Emitter),
			{"bias", "the bias part as built", []Field{
				real64("upper", &p.Tap.Upper, quantity.Ohm, 1, 1e7, "supply to base"),
			}},
			transistorLaw("upper", "law of the transistor", &p.Upper),
			thermal(&p.Thermal),
		}
	},
	Check: func(p *Parts) error {
		return cmp.Or(checkSpan(capacitorSpan(p)), checkReflected(p))
	},
	Build:        buildSingleTransistorCapacitor,
	Span:         capacitorSpan,
	GreatestBias: 12,
	Reference:    classACurrent,
	PeakCurrent:  transformerPeak,
}

// capacitorSpan is an input that surely saturates a base behind its source.
func capacitorSpan(p *Parts) float64 {
	direct := *p
	direct.Input = Transformer{Ratio: 1}
	return inputTransformerSpan(&direct)
}

// buildSingleTransistorCapacitor puts a forced bias, like the capacitor's voltage
// that it stands for, between source and base.
func buildSingleTransistorCapacitor(p *Parts, forced bool, t Temperatures) *Network {
	n, source, high := transformerStage(p)
	c := n.Circuit
	base, collector := c.Node("base"), c.Node("collector")
	n.BiasPlus, n.BiasMinus = base, network.Ground
	emitter := series(c, network.Ground, "emitter", p.Emitter.Ohms)
	c.Add(n.transistor("transistor", &p.Upper, network.NPN, t, atUpper, collector, base, emitter))
	n.outputTransformer(p, high, collector)
	if forced {
		n.Forced = []Share{{c.VoltageSource("bias", base, source, 0), 1}}
		return n
	}
	c.Add(
		network.Capacitor{A: source, B: base, Farads: p.Coupling.Input},
		network.Resistor{A: high, B: base, Ohms: p.Tap.Upper},
	)
	return n
}
