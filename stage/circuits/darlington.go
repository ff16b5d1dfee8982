package circuits

import (
	"quietcross/stage/drawing"
	"quietcross/stage/network"
)

// The double follower is the complementary pair with each device doubled: a driver
// of the same polarity follows the input and drives the output device's base.
// Four junctions stand between the bases, and so do the bias diodes.
var _ = register(40, &Kind{
	Name:  "darlington-follower",
	Title: "complementary pair of double emitter followers on two rails",
	About: "Each device of the pair is two in a row, so that the bases ask little of what drives " +
		"them. Four junctions stand between the bases, and as many bias diodes.",
	Demos: []string{"darlington-30w"},
	groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source), load(&p.Load), emitterResistors(&p.Emitter), feedbackLoop(&p.Feedback),
			diodeBias(&p.Bias), diodeLaw(&p.Diode), baseEmitterResistors(&p.Drivers),
			smallTransistorLaw("driver_upper", "law of the upper, NPN, driver", &p.Drivers.Upper),
			smallTransistorLaw("driver_lower", "law of the lower, PNP, driver", &p.Drivers.Lower),
			transistorLaw("upper", "law of the upper, NPN, device", &p.Upper),
			transistorLaw("lower", "law of the lower, PNP, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	build:       buildDarlingtonFollower,
	draw:        drawDarlington,
	span:        railsSpan,
	trim:        diodeTrim,
	driver:      driverCapacitor,
	MaximumBias: 8,
	Reference:   oliverQuiescent,
	PeakCurrent: railsPeak,
})

func buildDarlingtonFollower(p *Parts, forced bool, t Temperatures) *Network {
	n, tap, high, low := compoundPair(p, forced)
	c := n.Circuit
	e1 := series(c, n.Out, "upper emitter", p.Emitter.Ohms)
	e2 := series(c, n.Out, "lower emitter", p.Emitter.Ohms)
	b1, b2 := c.Node("upper output base"), c.Node("lower output base")
	c.Add(
		n.transistor("upper", &p.Upper, network.NPN, t, atUpper, high, b1, e1),
		n.transistor("lower", &p.Lower, network.PNP, t, atLower, low, b2, e2),
		n.transistor("upper driver", &p.Drivers.Upper, network.NPN, t, atDriver, high, n.BiasPlus, b1),
		n.transistor("lower driver", &p.Drivers.Lower, network.PNP, t, atDriver, low, n.BiasMinus, b2),
		network.Resistor{A: b1, B: e1, Ohms: p.Drivers.Ohms},
		network.Resistor{A: b2, B: e2, Ohms: p.Drivers.Ohms},
	)
	if forced {
		n.forceAbout(tap, p)
		return n
	}
	n.addDiodeBias(p, t, tap)
	return n
}

func drawDarlington(s *sheet) {
	const drivers, outputs = 11, 27
	reach := s.reach(15)
	rail := reach + 7
	s.pair(reach, rail, drivers, outputs)
	for _, half := range sides {
		s.doubleFollower(half.side, half.bipolar, half.name, pt(0, half.side*reach), [2]int{drivers, outputs}, rail)
	}
}

// doubleFollower draws one half: the driver's emitter feeds the output device's
// base four units nearer to the middle.
func (s *sheet) doubleFollower(side int, kind drawing.Kind, name string, base drawing.Point, columns [2]int, rail int) {
	driver := s.transistor(kind, name+" driver", pt(columns[0]-1, base.Y))
	joint := pt(columns[0], base.Y-4*side)
	q := s.transistor(kind, name, pt(columns[1]-1, joint.Y))
	s.Wire(base, driver.Pin("base"))
	s.Wire(driver.Pin("emitter"), joint, q.Pin("base"))
	for _, t := range []drawing.Part{driver, q} {
		s.Wire(t.Pin("collector"), pt(t.Pin("collector").X, side*rail))
	}
	s.Shown(name+" output base", joint, 1, 0.8*float64(-side), drawing.Start)

	emitter := pt(columns[1], joint.Y-5*side)
	s.Wire(q.Pin("emitter"), emitter)
	corner := pt(joint.X, emitter.Y)
	resistor := drawing.Part{Kind: drawing.Resistor, Key: "drivers.resistance"}
	if side < 0 {
		s.Upright(resistor, joint, corner)
	} else {
		s.Upright(resistor, corner, joint)
	}
	s.Wire(corner, emitter)
	s.leg(name+" emitter", emitter, pt(columns[1], 0))
}
