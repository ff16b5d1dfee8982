package circuits

import (
	"quietcross/stage/drawing"
	"quietcross/stage/network"
)

// The single-supply follower is the complementary pair on one supply: the bias parts
// hold the output near half of it, and a capacitor keeps that from the load.
var _ = register(30, &Kind{
	Name:  "single-supply-follower",
	Title: "complementary pair on one supply with an output capacitor",
	About: "The complementary pair on one supply. Its output rests at half of the supply, which a " +
		"capacitor keeps from the loudspeaker.",
	Demos: []string{"single-supply-5w"},
	groups: func(p *Parts) []Group {
		return []Group{
			singleSupply(&p.Supply), signalSource(&p.Source),
			{Name: "coupling", Doc: "capacitors in the way of the signal", Fields: append(
				coupling("input", "from the input to the tap", &p.Coupling.Input).Fields,
				coupling("output", "from the output devices to the load", &p.Coupling.Output).Fields...)},
			load(&p.Load), emitterResistors(&p.Emitter), diodeBias(&p.Bias), diodeLaw(&p.Diode),
			transistorLaw("upper", "law of the upper, NPN, device", &p.Upper),
			transistorLaw("lower", "law of the lower, PNP, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	build:       buildSingleSupplyFollower,
	draw:        drawSingleSupply,
	span:        func(p *Parts) float64 { return p.Supply.Positive/2 + 5 },
	trim:        diodeTrim,
	driver:      driverDirect,
	MaximumBias: 5,
	Reference:   oliverQuiescent,
	PeakCurrent: func(p *Parts) float64 { return p.Supply.Positive / 2 / (p.Load.Ohms + p.Emitter.Ohms) },
})

// capacitorLeakOhms is the leakage of the coupling capacitors. It gives tap and
// output a place at rest when all junctions about them block.
const capacitorLeakOhms = 10e6

func buildSingleSupplyFollower(p *Parts, forced bool, t Temperatures) *Network {
	c := network.New()
	input, in := c.Drive("input", 0)
	high, positive := supplied(c, &p.PowerSupply, "supply", p.Supply.Positive)
	n := &Network{Circuit: c, In: in, high: high, Supplies: []network.Source{positive}, Outputs: []int{0, 1}}
	driven := n.front(p, input, "source")
	tap, middle := c.Node("tap"), c.Node("emitters")
	n.Out = c.Node("output")
	n.port(tap, forced, &p.Bias)
	e1 := series(c, middle, "upper emitter", p.Emitter.Ohms)
	e2 := series(c, middle, "lower emitter", p.Emitter.Ohms)
	c.Add(
		n.transistor("upper", &p.Upper, network.NPN, t, atUpper, high, n.BiasPlus, e1),
		n.transistor("lower", &p.Lower, network.PNP, t, atLower, network.Ground, n.BiasMinus, e2),
		network.Capacitor{A: middle, B: n.Out, Farads: p.Coupling.Output},
		network.Resistor{A: middle, B: n.Out, Ohms: capacitorLeakOhms},
	)
	n.loaded(p)
	if forced && !p.Driver.Fitted {
		// The ideal bias takes the place of the input capacitor's voltage too.
		n.Aids = []network.Source{c.VoltageSource("half supply", tap, driven, p.Supply.Positive/2)}
		n.force(tap)
		return n
	}
	c.Add(
		network.Capacitor{A: tap, B: driven, Farads: p.Coupling.Input},
		network.Resistor{A: tap, B: driven, Ohms: capacitorLeakOhms},
	)
	if forced {
		n.forceAbout(tap, p)
		return n
	}
	n.addDiodeBias(p, t, tap)
	return n
}

func drawSingleSupply(s *sheet) {
	const source, bias, outputs, load = 8, 17, 27, 45
	reach := s.reach(9)
	rail := reach + 7
	tap := pt(bias, 0)
	s.entrance(drawing.Point{}, pt(source, 0), "source")
	if s.forced && !s.hasDriver() {
		half := s.parts.Supply.Positive / 2
		s.Level(drawing.Part{Kind: drawing.Source, Device: "half supply", Flip: true, Value: half, Unit: "V"}, pt(source, 0), tap)
	} else {
		s.Level(drawing.Part{Kind: drawing.Capacitor, Key: "coupling.input"}, pt(source, 0), tap)
	}
	s.Shown("tap", tap, 0.7, 0, drawing.Start)
	s.portBias(tap, reach)
	s.feeds(bias, reach, rail)
	s.followers(bias, outputs, reach, rail)
	s.Wire(pt(s.railsFrom(bias, outputs), -rail), pt(outputs, -rail))
	s.rail("supply", pt(outputs, -rail), 1.2, -0.5, drawing.Start)
	s.Wire(pt(s.railsFrom(bias, outputs), rail), pt(outputs, rail))
	s.ground(pt(outputs, rail))
	s.Shown("emitters", pt(outputs, 0), 0.8, 1, drawing.Start)
	s.Level(drawing.Part{Kind: drawing.Capacitor, Key: "coupling.output"}, pt(outputs+8, 0), pt(load, 0))
	s.Wire(pt(outputs, 0), pt(outputs+8, 0))
	s.load(pt(load, 0))
}
