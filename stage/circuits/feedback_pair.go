package circuits

import "quietcross/stage/network"

// complementaryFeedbackPair has a driver of each polarity whose collector drives
// an output device of the other polarity, and whose emitter takes the output
// device's collector current: a loop around two devices that acts as one with one
// junction. Its optimum bias is far under that of a follower, and it has no
// closed form here.
var complementaryFeedbackPair = &Kind{
	Name:  "complementary-feedback-pair",
	Title: "complementary pair of two-device feedback loops on two rails",
	groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source), load(&p.Load), emitterResistors(&p.Emitter), feedbackLoop(&p.Feedback),
			diodeBias(&p.Bias), diodeLaw(&p.Diode), baseEmitterResistors(&p.Drivers),
			transistorLaw("driver_upper", "law of the upper, NPN, driver", &p.Drivers.Upper),
			transistorLaw("driver_lower", "law of the lower, PNP, driver", &p.Drivers.Lower),
			transistorLaw("upper", "law of the upper, PNP, device", &p.Upper),
			transistorLaw("lower", "law of the lower, NPN, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	build:       buildComplementaryFeedbackPair,
	span:        railsSpan,
	trim:        diodeTrim,
	driver:      driverCapacitor,
	MaximumBias: 5,
	PeakCurrent: railsPeak,
}

func buildComplementaryFeedbackPair(p *Parts, forced bool, t Temperatures) *Network {
	n, tap, high, low := compoundPair(p, forced)
	c := n.Circuit
	e1 := series(c, n.Out, "upper emitter", p.Emitter.Ohms)
	e2 := series(c, n.Out, "lower emitter", p.Emitter.Ohms)
	b1, b2 := c.Node("upper output base"), c.Node("lower output base")
	c.Add(
		n.transistor("upper", &p.Upper, network.PNP, t, atUpper, e1, b1, high),
		n.transistor("lower", &p.Lower, network.NPN, t, atLower, e2, b2, low),
		n.transistor("upper driver", &p.Drivers.Upper, network.NPN, t, atDriver, b1, n.BiasPlus, e1),
		n.transistor("lower driver", &p.Drivers.Lower, network.PNP, t, atDriver, b2, n.BiasMinus, e2),
		network.Resistor{A: high, B: b1, Ohms: p.Drivers.Ohms},
		network.Resistor{A: low, B: b2, Ohms: p.Drivers.Ohms},
	)
	if forced {
		n.forceAbout(tap, p)
		return n
	}
	n.addDiodeBias(p, t, tap)
	return n
}
