package drawing

import "fmt"

// Body returns the box that the symbol takes, its leads left out.
func (p Part) Body() Box {
	b := p.uprightBody()
	if p.Flip {
		b.Min.Y, b.Max.Y = -b.Max.Y, -b.Min.Y
	}
	for range p.Turn {
		b.Min.X, b.Min.Y, b.Max.X, b.Max.Y = -b.Max.Y, b.Min.X, -b.Min.Y, b.Max.X
	}
	x, y := float64(p.At.X), float64(p.At.Y)
	return Box{Place{b.Min.X + x, b.Min.Y + y}, Place{b.Max.X + x, b.Max.Y + y}}
}

// uprightBody returns the body about the middle, before turning.
func (p Part) uprightBody() Box {
	around := func(w, h float64) Box { return Box{Place{-w, -h}, Place{w, h}} }
	switch p.Kind {
	case Resistor:
		return around(0.5, 1.4)
	case Capacitor:
		return around(1.2, 0.35)
	case Inductor:
		return Box{Place{-0.1, -1.6}, Place{0.8, 1.6}}
	case Diode:
		return around(0.8, float64(p.Count)-0.3)
	case NPN, PNP, NChannel, PChannel:
		return around(2.2, 2.2)
	case Amplifier:
		return Box{Place{-2, -2.2}, Place{2.2, 2.2}}
	case Transformer:
		return around(1.6, 3.9)
	case Loudspeaker:
		return Box{Place{-0.5, -1.4}, Place{1.6, 1.4}}
	case Source, Signal:
		return around(1.3, 1.3)
	case Rail:
		return Box{Place{-0.7, -0.9}, Place{0.7, -0.1}}
	case Ground:
		return Box{Place{-1, 0.1}, Place{1, 1.4}}
	case Terminal:
		return around(0.3, 0.3)
	}
	panic(fmt.Sprintf("drawing: unknown symbol %d", p.Kind))
}
