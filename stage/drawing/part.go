package drawing

import (
	"fmt"

	"quietcross/stage/quantity"
)

// Kind is what a symbol stands for.
type Kind uint8

// The symbols.
const (
	Resistor    Kind = iota
	Capacitor        // two plates
	Inductor         // a row of half circles
	Diode            // one or more in series, as Count says
	NPN              // collector on top
	PNP              // emitter on top
	NChannel         // enhancement field-effect device, drain on top
	PChannel         // enhancement field-effect device, source on top
	Transformer      // two windings along a core, each with a tap or without
	Loudspeaker      // moving-coil drive unit
	Amplifier        // voltage amplifier with two inputs
	Source           // ideal voltage source
	Signal           // source of the signal
	Rail             // supply terminal
	Ground           // earth
	Terminal         // input or output terminal
)

// Dot says at which end a winding starts.
type Dot uint8

// The ends of a winding.
const (
	Top Dot = iota
	Bottom
)

// Part is a placed symbol.
type Part struct {
	Kind Kind
	// Name is the designation, such as "R1"; empty on terminals and earth. On a
	// Terminal it is what is written there.
	Name string
	At   Point // the middle of the symbol
	// Turn is quarter turns clockwise; Flip mirrors the symbol top to bottom first.
	Turn int
	Flip bool
	// Device names the device of the operating point that a transistor or diode
	// shows, the supply that a Rail shows, or an ideal source; empty on the rest.
	Device string
	// Key is the key of the stage file that sets the value, and Value and Unit are
	// that value; empty where a part has no single one.
	Key   string
	Value float64
	Unit  quantity.Unit
	// Share is the part of the bias voltage that an ideal bias source carries.
	Share float64
	// Count is how many equal diodes stand in series, at least 1.
	Count int
	// Taps tells which windings of a transformer have a centre tap, and Dots where
	// they start: the left one and the right one.
	Taps [2]bool
	Dots [2]Dot
	// Label is where name and value are written.
	Label Label
}

// Pin is one terminal of a part, in its place.
type Pin struct {
	Name string
	At   Point
}

// Pins returns the terminals of a part:
//
//	Resistor, Capacitor, Inductor, Loudspeaker: a (on top), b
//	Diode: anode (on top), cathode
//	NPN, PNP: collector, base, emitter
//	NChannel, PChannel: drain, gate, source
//	Source, Signal: plus (on top), minus
//	Amplifier: plus (on top), minus, out
//	Transformer: p1 (on top), p2 and pt, the tap, on the left; s1, s2, st on the right
//	Rail, Ground, Terminal: a
//
// It panics on a kind that is none of the constants.
func (p Part) Pins() []Pin {
	pins := p.upright()
	for i := range pins {
		pins[i].At = p.At.Plus(p.turned(pins[i].At))
	}
	return pins
}

// Pin returns where the terminal of that name is. It panics if there is none.
func (p Part) Pin(name string) Point {
	for _, pin := range p.Pins() {
		if pin.Name == name {
			return pin.At
		}
	}
	panic(fmt.Sprintf("drawing: %s has no terminal %q", p.Name, name))
}

// turned moves a point of the upright symbol to where its orientation puts it.
func (p Part) turned(at Point) Point {
	if p.Flip {
		at.Y = -at.Y
	}
	for range p.Turn {
		at.X, at.Y = -at.Y, at.X
	}
	return at
}

// upright returns the terminals about the middle, before turning.
func (p Part) upright() []Pin {
	switch p.Kind {
	case Resistor, Capacitor, Inductor, Loudspeaker:
		return []Pin{{"a", Point{0, -2}}, {"b", Point{0, 2}}}
	case Diode:
		reach := 1 + p.Count
		return []Pin{{"anode", Point{0, -reach}}, {"cathode", Point{0, reach}}}
	case Source, Signal:
		return []Pin{{"plus", Point{0, -2}}, {"minus", Point{0, 2}}}
	case NPN:
		return []Pin{{"collector", Point{1, -3}}, {"base", Point{-3, 0}}, {"emitter", Point{1, 3}}}
	case PNP:
		return []Pin{{"collector", Point{1, 3}}, {"base", Point{-3, 0}}, {"emitter", Point{1, -3}}}
	case NChannel:
		return []Pin{{"drain", Point{1, -3}}, {"gate", Point{-3, 1}}, {"source", Point{1, 3}}}
	case PChannel:
		return []Pin{{"drain", Point{1, 3}}, {"gate", Point{-3, -1}}, {"source", Point{1, -3}}}
	case Amplifier:
		return []Pin{{"plus", Point{-3, -1}}, {"minus", Point{-3, 1}}, {"out", Point{3, 0}}}
	case Transformer:
		return p.windings()
	case Rail, Ground, Terminal:
		return []Pin{{"a", Point{}}}
	}
	panic(fmt.Sprintf("drawing: unknown symbol %d", p.Kind))
}

func (p Part) windings() []Pin {
	pins := []Pin{{"p1", Point{-2, -4}}, {"p2", Point{-2, 4}}, {"s1", Point{2, -4}}, {"s2", Point{2, 4}}}
	if p.Taps[0] {
		pins = append(pins, Pin{"pt", Point{-2, 0}})
	}
	if p.Taps[1] {
		pins = append(pins, Pin{"st", Point{2, 0}})
	}
	return pins
}

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
