package drawing

// Distances of the second and the third column of bias parts from the first, whose
// labels stand to its left.
var tapColumns = [3]int{0, 4, 14}

// tapBias puts the parts that hold a tap into columns from a point of the tap's
// line to the right: a resistor up to the supply in the first, and resistor,
// diodes and capacitor down to earth, depth units below. A forced bias is one
// ideal source.
func (s *sheet) tapBias(first Point, depth, height int) {
	parts := s.tapParts()
	at := first
	for i, p := range parts {
		at = first.plus(Point{tapColumns[i], 0})
		bottom := at.plus(Point{0, depth})
		if i == 0 && (p.Kind == Resistor || p.Kind == Capacitor) {
			p.Label = leftOf(p.Kind, at, bottom)
		}
		s.upright(p, at, bottom)
		s.ground(bottom)
	}
	s.wire(first, at)
	if upper := s.parts.Tap.Upper; upper > 0 && !s.forced {
		top := first.plus(Point{0, -height})
		s.upright(Part{Kind: Resistor, Key: "bias.upper", Label: leftOf(Resistor, top, first)}, top, first)
		s.localRail(top)
	}
}

// leftOf is the place of a label to the left of a part between two points of a
// column.
func leftOf(k Kind, top, bottom Point) Label {
	return label(Point{top.X, (top.Y + bottom.Y) / 2}, -beside(k), 0, End)
}

// tapParts lists the parts between tap and earth, at most one of them, the diodes,
// with much to write beside it and never the first of several.
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
		bypass := Part{Kind: Capacitor, Key: "bias.bypass"}
		if tap.Lower > 0 {
			return append(list, bypass)
		}
		return append([]Part{bypass}, list...)
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
