package circuits

import (
	"fmt"

	"quietcross/stage/drawing"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// What the stages between transformers share: a supply, the two transformers, the load as
// the collector sees it, and the inputs and currents that follow from that; and the
// drawing of these.

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
// supply up and down around its rest, VCC over the reflected load (Boylestad
// and Nashelsky, Electronic Devices and Circuit Theory, transformer-coupled class A).
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

// transformerStage begins a stage on one supply and returns the node that drives it:
// that behind its source's resistance, or a driver's collector.
func transformerStage(p *Parts) (n *Network, source, high network.Node) {
	c := network.New()
	input, in := c.Drive("input", 0)
	n = &Network{Circuit: c, In: in, Outputs: []int{0}}
	source = n.front(p, input, "source")
	high, positive := supplied(c, &p.PowerSupply, "supply", p.Supply.Positive)
	n.high, n.Supplies = high, []network.Source{positive}
	n.Out = c.Node("output")
	n.loaded(p)
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

// driverPrimary puts the input transformer's primary into a driver's collector, its
// start at the supply, with the damping resistor across it.
func (s *sheet) driverPrimary(t drawing.Part) {
	const damping, collector = 1, -2
	top, bottom := pt(damping, t.Pin("p1").Y), pt(damping, t.Pin("p2").Y)
	supply := top.Plus(pt(0, -3))
	s.Wire(supply, top, t.Pin("p1"))
	s.localRail(supply)
	s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "driver.damping", Label: drawing.LeftOf(drawing.Resistor, top, bottom)}, top, bottom)
	s.Wire(pt(collector, bottom.Y), t.Pin("p2"))
	s.driver(pt(collector, bottom.Y))
}

// inputTransformer draws the source and the transformer behind it, whose middle is
// nine units to the right of the source.
func (s *sheet) inputTransformer(tapped bool) drawing.Part {
	l := drawing.Label{At: drawing.Place{X: 7.9, Y: -5.2}, Align: drawing.Start}
	if tapped {
		l = drawing.Label{At: drawing.Place{X: 10.4, Y: -6.8}, Align: drawing.End}
	}
	t := s.Put(drawing.Part{
		Kind: drawing.Transformer, Key: "input_transformer.ratio", At: pt(9, 0), Taps: [2]bool{false, tapped}, Label: l,
	})
	if s.hasDriver() {
		s.driverPrimary(t)
		return t
	}
	in := pt(0, -4)
	s.signal(in)
	if s.driven(in, t.Pin("p1")) {
		s.Node("source", t.Pin("p1"))
	}
	s.ground(t.Pin("p2"))
	return t
}

// loadTransformer draws the output transformer about a point, and the load behind
// it. Without a tap it winds from the supply on top to the lone collector below.
func (s *sheet) loadTransformer(at drawing.Point, tapped bool) drawing.Part {
	p := drawing.Part{Kind: drawing.Transformer, Key: "output_transformer.ratio", At: at, Taps: [2]bool{tapped, false}}
	p.Label = drawing.LabelAt(at, -1, -5.2, drawing.Start)
	if tapped {
		p.Dots[0] = drawing.Bottom
	}
	t := s.Put(p)
	out := t.Pin("s1").Plus(pt(5, 0))
	s.Wire(t.Pin("s1"), out)
	s.load(out)
	s.ground(t.Pin("s2"))
	return t
}

// common draws a lone common-emitter device with its output transformer and
// returns it; at is its middle.
func (s *sheet) common(at drawing.Point) drawing.Part {
	q := s.transistor(drawing.NPN, "transistor", at)
	t := s.loadTransformer(at.Plus(pt(7, -9)), false)
	corner := pt(q.Pin("collector").X, t.Pin("p2").Y)
	s.Wire(q.Pin("collector"), corner, t.Pin("p2"))
	s.Shown("collector", corner, -0.6, 0.3, drawing.End)
	foot := q.Pin("emitter").Plus(pt(0, 6))
	s.leg("emitter", q.Pin("emitter"), foot)
	s.ground(foot)
	top := t.Pin("p1").Plus(pt(0, -2))
	s.Wire(top, t.Pin("p1"))
	s.rail("supply", top, -1.1, -0.3, drawing.End)
	return q
}
