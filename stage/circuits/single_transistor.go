package circuits

import (
	"errors"
	"fmt"

	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// singleTransistor is one common-emitter device between an input and an output
// transformer. Biased to half of its maximum current it works in class A all
// cycle; biased at its turn-on point it passes half of the wave.
var singleTransistor = &Kind{
	Name:  "single-transistor",
	Title: "one transistor between an input and an output transformer",
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
	span:        inputTransformerSpan,
	trim:        tapTrim,
	driver:      driverTransformer,
	MaximumBias: 12,
	Reference:   classACurrent,
	PeakCurrent: transformerPeak,
	States:      loneStates,
}

// loneStates are the conditions of a lone device: it has no hand-over, and what theory
// holds best is class A.
var loneStates = map[string]string{
	"unbiased":     "cut off at rest",
	"under-biased": "below class A",
	"optimum":      "class A",
	"over-biased":  "hotter than class A",
}

// checkTap refuses a tap that nothing holds and a load that no device can drive.
func checkTap(p *Parts) error {
	if p.Tap.Upper == 0 && p.Tap.Lower == 0 {
		return errors.New("bias.upper and bias.lower are both 0: none; one of them must hold the tap")
	}
	if err := checkSpan(inputTransformerSpan(p)); err != nil {
		return err
	}
	return checkReflected(p)
}

// checkSpan bounds the input that drives a stage fully.
func checkSpan(volts float64) error {
	legal := quantity.Range{Unit: quantity.Volt, Min: 0, Max: 1e3}
	if err := legal.Check(volts); err != nil {
		return fmt.Errorf("source.resistance, input_transformer and upper ask for an input to drive the stage fully: %w", err)
	}
	return nil
}

// checkReflected bounds the load as the collector sees it.
func checkReflected(p *Parts) error {
	legal := quantity.Range{Unit: quantity.Ohm, Min: 1, Max: 1e5}
	if err := legal.Check(reflected(p)); err != nil {
		return fmt.Errorf("load.resistance and output_transformer.ratio make a load at the collector: %w", err)
	}
	return nil
}

// reflected is the load as the collector sees it, in ohms.
func reflected(p *Parts) float64 {
	return p.Output.Ratio*p.Output.Ratio*(p.Load.Ohms+p.Output.SecondaryOhms) + p.Output.PrimaryOhms
}

// transformerPeak is the current that swings the collector through the supply.
func transformerPeak(p *Parts) float64 {
	return p.Supply.Positive / (reflected(p) + p.Emitter.Ohms)
}

// classACurrent is the quiescent current at which the collector can swing the
// supply up and down around its rest, VCC over the reflected load (textbook).
func classACurrent(p *Parts, _ Temperatures) float64 { return transformerPeak(p) }

// inputTransformerSpan is an input that surely saturates a base behind the input
// transformer.
func inputTransformerSpan(p *Parts) float64 {
	peak := 3 * transformerPeak(p)
	gain := p.Upper.ForwardGain
	base := 0.0
	if gain > 0 {
		base = peak / gain
	}
	turns := p.Input.Ratio
	at := 2 + peak*(p.Emitter.Ohms+p.Upper.EmitterOhms) + base*(p.Upper.BaseOhms+p.Input.SecondaryOhms)
	return turns*at + base/turns*(p.Source.Ohms+p.Input.PrimaryOhms)
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

// transformerStage begins a stage on one supply and returns the node that drives it:
// that behind its source's resistance, or a driver's collector.
func transformerStage(p *Parts) (n *Network, source, high network.Node) {
	c := network.New()
	input, in := c.Drive("input", 0)
	n = &Network{Circuit: c, In: in, Outputs: []int{0}}
	source = n.front(p, input, "source")
	high, positive := c.Drive("supply", p.Supply.Positive)
	n.high, n.Supplies = high, []network.Source{positive}
	n.Out = c.Node("output")
	n.loaded(&p.Load)
	return n, source, high
}

// outputTransformer joins a lone collector to the load; a falling collector
// raises the output.
func (n *Network) outputTransformer(p *Parts, high, collector network.Node) {
	n.Circuit.Add(network.Transformer{Magnetising: p.Output.Magnetising, Saturation: p.Output.Saturation, Windings: []network.Winding{
		{A: high, B: collector, Turns: p.Output.Ratio, Ohms: p.Output.PrimaryOhms, Leakage: p.Output.Leakage},
		{A: n.Out, Turns: 1, Ohms: p.Output.SecondaryOhms},
	}})
}

// addTapBias biases a tap against ground, by force or by a divider with an
// optional capacitor and diodes.
func addTapBias(p *Parts, forced bool, t Temperatures, n *Network, high, tap network.Node) {
	c := n.Circuit
	if forced {
		n.Forced = []Share{{c.VoltageSource("bias", tap, network.Ground, 0), 1}}
		return
	}
	if p.Tap.Upper > 0 {
		c.Add(network.Resistor{A: high, B: tap, Ohms: p.Tap.Upper})
	}
	if p.Tap.Lower > 0 {
		c.Add(network.Resistor{A: tap, Ohms: p.Tap.Lower})
	}
	if p.Tap.Diodes > 0 {
		c.Add(n.diodes("bias diodes", &p.Diode, p.Tap.Diodes, t, tap, network.Ground))
	}
	if p.Tap.Bypass > 0 {
		c.Add(network.Capacitor{A: tap, Farads: p.Tap.Bypass})
	}
}
