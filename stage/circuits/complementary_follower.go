package circuits

import (
	"quietcross/stage/network"
)

// The complementary follower is the transformerless class-AB pair: an NPN follower
// from the upper rail and a PNP follower from the lower one into one load, each
// through an emitter resistor. The bias parts are a feed resistor from each rail
// and diodes between the bases, with the signal at their middle; as the output
// swings toward a rail that side's feed has less and less voltage across it,
// and starves the base.
var _ = register(10, &Kind{
	Name:  "complementary-follower",
	Title: "complementary pair of emitter followers on two rails",
	About: "An NPN device follows the positive half of the wave and a PNP device the negative half. " +
		"Diodes hold about two junction voltages between their bases, so that neither is quite " +
		"off when the other takes over.",
	Demos: []string{"pair-1w", "pair-12w", "pair-60w", "pair-12w-speaker", "pair-12w-feedback", "pair-12w-driven"},
	groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source), load(&p.Load), emitterResistors(&p.Emitter), feedbackLoop(&p.Feedback),
			diodeBias(&p.Bias), diodeLaw(&p.Diode),
			transistorLaw("upper", "law of the upper, NPN, device", &p.Upper),
			transistorLaw("lower", "law of the lower, PNP, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	build:       buildComplementaryFollower,
	draw:        drawFollower,
	span:        railsSpan,
	trim:        diodeTrim,
	driver:      driverCapacitor,
	MaximumBias: 5,
	Reference:   oliverQuiescent,
	PeakCurrent: railsPeak,
})

func buildComplementaryFollower(p *Parts, forced bool, t Temperatures) *Network {
	n, tap, high, low := compoundPair(p, forced)
	c, out := n.Circuit, n.Out
	e1 := series(c, out, "upper emitter", p.Emitter.Ohms)
	e2 := series(c, out, "lower emitter", p.Emitter.Ohms)
	c.Add(
		n.transistor("upper", &p.Upper, network.NPN, t, atUpper, high, n.BiasPlus, e1),
		n.transistor("lower", &p.Lower, network.PNP, t, atLower, low, n.BiasMinus, e2),
	)
	if forced {
		n.forceAbout(tap, p)
		return n
	}
	n.addDiodeBias(p, t, tap)
	return n
}

func drawFollower(s *sheet) {
	const outputs = 10
	reach := s.reach(9)
	s.pair(reach, reach+7, outputs, outputs)
	s.followers(0, outputs, reach, reach+7)
}
