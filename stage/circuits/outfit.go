package circuits

import (
	"fmt"

	"quietcross/dsp/elementary"
	"quietcross/stage/network"
)

// Several output devices in parallel, and stoppers, which are put into the finished
// network of any circuit: each output device is found with the resistor in its emitter or
// source, and both are made as often as is asked for.

// Stoppers are resistors in the base or gate of each output device.
type Stoppers struct {
	Fitted bool
	Ohms   float64 // each
}

// Parallel is several output devices in place of each, with an emitter resistor and a
// stopper each. The first of each side takes the most current.
type Parallel struct {
	Fitted     bool
	Devices    int
	Volts      float64 // spread of their base-emitter voltages at one current, or of their thresholds, V
	GainSpread float64 // spread of their current gains, relative to the mean
}

// count returns how many devices stand in place of each.
func (p *Parallel) count() int {
	if !p.Fitted {
		return 1
	}
	return p.Devices
}

// at returns where the i-th device stands in the spread, from 1/2 for that which takes
// the most current to -1/2.
func (p *Parallel) at(i int) float64 {
	if p.count() == 1 {
		return 0
	}
	return 0.5 - float64(i)/float64(p.count()-1)
}

// transistor returns the i-th of parallel devices.
func (p *Parallel) transistor(t Transistor, i int) Transistor {
	x := p.at(i)
	t.Saturation *= elementary.Exp(x * p.Volts / (t.Emission * roomVolts))
	t.ForwardGain *= 1 + x*p.GainSpread
	return t
}

func (p *Parallel) fieldEffect(f FieldEffect, i int) FieldEffect {
	f.Threshold -= p.at(i) * p.Volts
	return f
}

// most returns parts whose output devices are those of each side that take the most
// current.
func (p Parts) most() Parts {
	if p.Parallel.count() > 1 {
		p.Upper, p.Lower = p.Parallel.transistor(p.Upper, 0), p.Parallel.transistor(p.Lower, 0)
		p.UpperFET, p.LowerFET = p.Parallel.fieldEffect(p.UpperFET, 0), p.Parallel.fieldEffect(p.LowerFET, 0)
	}
	return p
}

// outfit puts parallel devices and stoppers into a finished network, and notes which
// devices stand on which side.
func (n *Network) outfit(p *Parts, t Temperatures) {
	devices := deviceElements(n.Circuit)
	count := len(devices)
	for side, place := range n.Outputs {
		n.Sides = append(n.Sides, []int{place})
		leg := n.leg(devices[place])
		for i := 1; i < p.Parallel.count(); i++ {
			n.Circuit.Add(n.twin(devices[place], leg, p, t, side, i))
			n.Sides[side] = append(n.Sides[side], count)
			count++
		}
	}
	if !p.Stoppers.Fitted {
		return
	}
	devices = deviceElements(n.Circuit)
	for _, places := range n.Sides {
		for _, place := range places {
			n.stop(devices[place], p.Stoppers.Ohms)
		}
	}
}

// deviceElements lists the elements that are devices, in the order of Solver.Devices.
func deviceElements(c *network.Circuit) []network.Element {
	var list []network.Element
	for _, e := range c.Elements() {
		switch e.(type) {
		case *network.Bipolar, *network.FieldEffect, *network.Diode:
			list = append(list, e)
		}
	}
	return list
}

// leg finds the resistor in an output device's emitter, source or, in a feedback pair,
// collector; nil where there is none.
func (n *Network) leg(e network.Element) *network.Resistor {
	var ends []network.Node
	switch d := e.(type) {
	case *network.Bipolar:
		ends = []network.Node{d.Emitter, d.Collector}
	case *network.FieldEffect:
		ends = []network.Node{d.Source}
	}
	for _, e := range n.Circuit.Elements() {
		r, ok := e.(network.Resistor)
		for _, end := range ends {
			if name := n.Circuit.Name(end); ok && r.B == end && (name == "emitter" || legName(name)) {
				return &r
			}
		}
	}
	return nil
}

// legName reports whether a node is that between an output device and its resistor.
func legName(name string) bool {
	switch name {
	case "upper emitter", "lower emitter", "upper source", "lower source":
		return true
	}
	return false
}

// twin makes the i-th of parallel devices, i > 0, beside the first, on a resistor of its
// own.
func (n *Network) twin(first network.Element, leg *network.Resistor, p *Parts, t Temperatures, side, i int) network.Element {
	where, bipolar, field := atUpper, p.Upper, p.UpperFET
	if side == 1 {
		where, bipolar, field = atLower, p.Lower, p.LowerFET
	}
	move := func(to network.Node) network.Node { return to }
	if leg != nil {
		own := n.Circuit.Node(fmt.Sprintf("%s %d", n.Circuit.Name(leg.B), i+1))
		n.Circuit.Add(network.Resistor{A: leg.A, B: own, Ohms: leg.Ohms})
		move = func(to network.Node) network.Node {
			if to == leg.B {
				return own
			}
			return to
		}
	}
	switch d := first.(type) {
	case *network.Bipolar:
		q, law := *d, p.Parallel.transistor(bipolar, i)
		q.Name = fmt.Sprintf("%s %d", d.Name, i+1)
		q.Emitter, q.Collector = move(d.Emitter), move(d.Collector)
		n.sense(t, func(t Temperatures) { q.Law = law.law().At(where(t) + law.Rise) })
		return &q
	case *network.FieldEffect:
		q, law := *d, p.Parallel.fieldEffect(field, i)
		q.Name = fmt.Sprintf("%s %d", d.Name, i+1)
		q.Source = move(d.Source)
		n.sense(t, func(t Temperatures) { q.Law = law.law().At(where(t) + law.Rise) })
		return &q
	}
	panic(fmt.Sprintf("circuits: a %T is no output device", first))
}

// stop puts a stopper into a device's base or gate.
func (n *Network) stop(e network.Element, ohms float64) {
	switch d := e.(type) {
	case *network.Bipolar:
		d.Base = series(n.Circuit, d.Base, d.Name+" stopper", ohms)
	case *network.FieldEffect:
		d.Gate = series(n.Circuit, d.Gate, d.Name+" stopper", ohms)
	}
}
