package circuits

import (
	"quietcross/stage/network"
)

// The source follower is the pair in enhancement field-effect devices,
// biased by a VBE multiplier and driven through capacitors. The law has its
// subthreshold conduction, which makes its crossover softer than a square law's.
var _ = register(60, &Kind{
	Name:  "complementary-source-follower",
	Title: "complementary pair of field-effect source followers on two rails",
	About: "The pair in field-effect devices. They turn on over half a volt and more, without a " +
		"sharp corner, so that more current is asked for and the crossover is softer.",
	Demos: []string{"fet-30w"},
	groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source),
			coupling("input", "from the input to each gate", &p.Coupling.Input),
			load(&p.Load), emitterResistors(&p.Emitter), feeds(&p.Bias), multiplier(&p.Multiplier),
			smallTransistorLaw("multiplier_device", "law of the multiplier's transistor", &p.Multiplier.Device),
			fieldEffectLaw("upper", "law of the upper, n-channel, device", &p.UpperFET),
			fieldEffectLaw("lower", "law of the lower, p-channel, device", &p.LowerFET),
			thermal(&p.Thermal),
		}
	},
	build:       buildComplementarySourceFollower,
	draw:        drawSourceFollower,
	span:        func(p *Parts) float64 { return railsSpan(p) + p.UpperFET.Threshold + p.LowerFET.Threshold },
	trim:        multiplierTrim,
	driver:      driverDirect,
	MaximumBias: 30,
	PeakCurrent: railsPeak,
})

func buildComplementarySourceFollower(p *Parts, forced bool, t Temperatures) *Network {
	n, tap, high, low := capacitorDriven(p, forced)
	c := n.Circuit
	s1 := series(c, n.Out, "upper source", p.Emitter.Ohms)
	s2 := series(c, n.Out, "lower source", p.Emitter.Ohms)
	c.Add(
		n.channel("upper", &p.UpperFET, network.NPN, t, atUpper, high, n.BiasPlus, s1),
		n.channel("lower", &p.LowerFET, network.PNP, t, atLower, low, n.BiasMinus, s2),
	)
	if forced {
		n.forceAbout(tap, p)
		return n
	}
	n.addMultiplier(p, t)
	return n
}

// channel makes the network element of a field-effect device of the stage.
func (n *Network) channel(name string, f *FieldEffect, polarity network.Polarity, t Temperatures, where at, d, g, s network.Node) *network.FieldEffect {
	law, rise := f.law(), f.Rise
	q := &network.FieldEffect{
		Name: name, Drain: d, Gate: g, Source: s, Polarity: polarity,
		DrainOhms: f.DrainOhms, SourceOhms: f.SourceOhms,
	}
	n.sense(t, func(t Temperatures) { q.Law = law.At(where(t) + rise) })
	return q
}

func drawSourceFollower(s *sheet) {
	const outputs, reach, rail = 36, 10, 18
	from := s.multiplierInput(outputs, reach, rail)
	for _, half := range sides {
		gate := pt(from, half.side*reach)
		q := s.transistor(half.channel, half.name, pt(outputs-1, half.side*(reach+1)))
		s.Wire(gate, q.Pin("gate"))
		s.Wire(q.Pin("drain"), pt(outputs, half.side*rail))
		s.leg(half.name+" source", q.Pin("source"), pt(outputs, 0))
	}
	s.multiplierOutput(outputs)
}
