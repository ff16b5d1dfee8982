package circuits

import (
	"quietcross/stage/drawing"
	"quietcross/stage/network"
)

// The complementary feedback pair has a driver of each polarity whose collector drives
// an output device of the other polarity, and whose emitter takes the output
// device's collector current: a loop around two devices that acts as one with one
// junction. Its optimum bias is far under that of a follower, and it has no
// closed form here.
var _ = register(50, &Kind{
	Name:  "complementary-feedback-pair",
	Title: "complementary pair of two-device feedback loops on two rails",
	About: "Each half is a small loop: a driver's collector feeds an output device of the other " +
		"polarity, which gives its current back to the driver's emitter. The two act as one " +
		"device with one junction, and its best bias is far under that of a follower.",
	Demos: []string{"feedback-pair-30w"},
	groups: func(p *Parts) []Group {
		return []Group{
			dualSupply(&p.Supply), signalSource(&p.Source), load(&p.Load), emitterResistors(&p.Emitter), feedbackLoop(&p.Feedback),
			diodeBias(&p.Bias), diodeLaw(&p.Diode), baseEmitterResistors(&p.Drivers),
			smallTransistorLaw("driver_upper", "law of the upper, NPN, driver", &p.Drivers.Upper),
			smallTransistorLaw("driver_lower", "law of the lower, PNP, driver", &p.Drivers.Lower),
			transistorLaw("upper", "law of the upper, PNP, device", &p.Upper),
			transistorLaw("lower", "law of the lower, NPN, device", &p.Lower),
			thermal(&p.Thermal),
		}
	},
	build:       buildComplementaryFeedbackPair,
	draw:        drawFeedbackPair,
	span:        railsSpan,
	trim:        diodeTrim,
	driver:      driverCapacitor,
	MaximumBias: 5,
	PeakCurrent: railsPeak,
})

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

func drawFeedbackPair(s *sheet) {
	const drivers, outputs = 10, 27
	reach := s.reach(10)
	rail := reach + 11
	s.pair(reach, rail, drivers, outputs)
	s.feedbackPair(-1, drawing.NPN, drawing.PNP, "upper", pt(0, -reach), [2]int{drivers, outputs}, rail)
	s.feedbackPair(1, drawing.PNP, drawing.NPN, "lower", pt(0, reach), [2]int{drivers, outputs}, rail)
}

// feedbackPair draws one half: the driver's collector feeds the base of an output
// device of the other polarity, whose collector meets the driver's emitter.
func (s *sheet) feedbackPair(side int, first, second drawing.Kind, name string, base drawing.Point, columns [2]int, rail int) {
	driver := s.transistor(first, name+" driver", pt(columns[0]-1, base.Y))
	joint := pt(columns[0], base.Y+4*side)
	q := s.transistor(second, name, pt(columns[1]-1, joint.Y))
	s.Wire(base, driver.Pin("base"))
	s.Wire(driver.Pin("collector"), joint, q.Pin("base"))
	s.Shown(name+" output base", joint, 1.2, 0.8*float64(-side), drawing.Start)
	top := pt(joint.X, side*rail)
	resistor := drawing.Part{Kind: drawing.Resistor, Key: "drivers.resistance"}
	if side < 0 {
		s.Upright(resistor, top, joint)
	} else {
		s.Upright(resistor, joint, top)
	}
	s.Wire(q.Pin("emitter"), pt(columns[1], side*rail))

	emitter := pt(columns[1], base.Y-4*side)
	s.Wire(q.Pin("collector"), emitter)
	s.Wire(driver.Pin("emitter"), pt(columns[0], emitter.Y), emitter)
	s.leg(name+" emitter", emitter, pt(columns[1], 0))
}
