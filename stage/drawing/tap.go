package drawing

// columnWidth is the distance of bias parts beside each other.
const columnWidth = 8

// tapBias puts the parts that hold a tap into columns from a point of the tap's
// line to the right: a resistor up to the supply in the first, and resistor,
// diodes and capacitor down to earth, depth units below. A forced bias is one
// ideal source.
func (s *sheet) tapBias(first Point, depth, height int) {
	parts := s.tapParts()
	at := first
	for i, p := range parts {
		at = first.plus(Point{i * columnWidth, 0})
		bottom := at.plus(Point{0, depth})
		s.upright(p, at, bottom)
		s.ground(bottom)
	}
	s.wire(first, at)
	if upper := s.parts.Tap.Upper; upper > 0 && !s.forced {
		top := first.plus(Point{0, -height})
		s.upright(Part{Kind: Resistor, Key: "bias.upper"}, top, first)
		s.localRail(top)
	}
}

// tapParts lists the parts between tap and earth.
func (s *sheet) tapParts() []Part {
	if s.forced {
		return []Part{{Kind: Source, Device: "bias", Share: 1}}
	}
	var list []Part
	tap := &s.parts.Tap
	if tap.Lower > 0 {
		list = append(list, Part{Kind: Resistor, Key: "bias.lower"})
	}
	if tap.Diodes > 0 {
		list = append(list, Part{Kind: Diode, Device: "bias diodes", Count: tap.Diodes})
	}
	if tap.Bypass > 0 {
		list = append(list, Part{Kind: Capacitor, Key: "bias.bypass", Label: Label{}})
	}
	return list
}

// tapDepth is the room that the parts below the tap need: least, or more for many
// diodes.
func (s *sheet) tapDepth(least int) int {
	if s.forced {
		return least
	}
	return max(least, 2*(1+s.parts.Tap.Diodes))
}
