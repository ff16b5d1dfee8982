package circuits

import (
	"errors"

	"quietcross/stage/drawing"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// The bias of a tap: a resistor from the supply, which is the part that is trimmed, and
// from the tap to earth a resistor, diodes and a capacitor, each where it is wanted; or an
// ideal source.

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

// tapTrim is the resistor from the supply to the tap or base, where there is one.
func tapTrim(p *Parts) *Trim {
	if p.Tap.Upper == 0 {
		return nil
	}
	return &Trim{[]leg{{
		Trimmer: Trimmer{Key: "bias.upper", Name: "resistor from the supply to the bias tap", Unit: quantity.Ohm},
		from:    1e7, to: 1,
		set:    func(p *Parts, ohms float64) { p.Tap.Upper = ohms },
		fitted: func(p *Parts) (float64, bool) { return p.Tap.Upper, true },
	}}}
}

// Distances of the second and the third column of bias parts from the first, whose
// labels stand to its left.
var tapColumns = [3]int{0, 4, 14}

// tapBias puts the parts that hold a tap into columns from a point of the tap's
// line to the right: a resistor up to the supply in the first, and resistor,
// diodes and capacitor down to earth, depth units below. A forced bias is one
// ideal source.
func (s *sheet) tapBias(first drawing.Point, depth, height int) {
	parts := s.tapParts()
	at := first
	for i, p := range parts {
		at = first.Plus(pt(tapColumns[i], 0))
		bottom := at.Plus(pt(0, depth))
		if i == 0 && (p.Kind == drawing.Resistor || p.Kind == drawing.Capacitor) {
			p.Label = drawing.LeftOf(p.Kind, at, bottom)
		}
		s.Upright(p, at, bottom)
		s.ground(bottom)
	}
	s.Wire(first, at)
	if upper := s.parts.Tap.Upper; upper > 0 && !s.forced {
		top := first.Plus(pt(0, -height))
		s.Upright(drawing.Part{Kind: drawing.Resistor, Key: "bias.upper", Label: drawing.LeftOf(drawing.Resistor, top, first)}, top, first)
		s.localRail(top)
	}
}

// tapParts lists the parts between tap and earth, at most one of them, the diodes,
// with much to write beside it and never the first of several.
func (s *sheet) tapParts() []drawing.Part {
	if s.forced {
		return []drawing.Part{{Kind: drawing.Source, Device: "bias", Share: 1}}
	}
	var list []drawing.Part
	tap := &s.parts.Tap
	if tap.Lower > 0 {
		list = append(list, drawing.Part{Kind: drawing.Resistor, Key: "bias.lower"})
	}
	if tap.Diodes > 0 {
		list = append(list, drawing.Part{Kind: drawing.Diode, Device: "bias diodes", Count: tap.Diodes})
	}
	if tap.Bypass > 0 {
		bypass := drawing.Part{Kind: drawing.Capacitor, Key: "bias.bypass"}
		if tap.Lower > 0 {
			return append(list, bypass)
		}
		return append([]drawing.Part{bypass}, list...)
	}
	return list
}

// tapDepth is the room that the parts below the tap need: minimum, or more for many
// diodes.
func (s *sheet) tapDepth(minimum int) int {
	if s.forced {
		return minimum
	}
	return max(minimum, 2*(1+s.parts.Tap.Diodes))
}
