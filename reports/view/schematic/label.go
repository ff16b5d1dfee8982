package schematic

import (
	"strings"

	"quietcross/reports/view/format"
	"quietcross/stage/drawing"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// lines returns what is written beside a part.
func (f *Figure) lines(p drawing.Part) [][]run {
	switch p.Kind {
	case drawing.Ground, drawing.Signal:
		return nil
	case drawing.Rail:
		return f.railLines(p)
	}
	if f.Plain {
		return plainLines(p)
	}
	switch p.Kind {
	case drawing.Terminal:
		return [][]run{{{p.Name, "port"}}}
	case drawing.Source:
		return [][]run{named(p, format.Quantity(f.sourceVolts(p), "V"))}
	case drawing.Amplifier:
		return [][]run{named(p, "×"+partValue(p.Value, quantity.Number))}
	case drawing.Loudspeaker:
		return [][]run{
			named(p, partValue(p.Value, p.Unit)),
			{{"f", "term"}, {"s", "sub"}, {"\u00a0" + partValue(f.Spec.Load.Resonance, quantity.Hertz), ""}},
		}
	case drawing.Transformer:
		return [][]run{named(p, ratio(p))}
	}
	if o, ok := f.operation(p); ok {
		return deviceLines(p, o)
	}
	return [][]run{named(p, partValue(p.Value, p.Unit))}
}

func named(p drawing.Part, value string) []run {
	return []run{{p.Name, "name"}, {"\u00a0" + value, ""}}
}

// deviceLines are a device's designation and name, its current and its heat.
func deviceLines(p drawing.Part, o network.Operation) [][]run {
	head := []run{{p.Name, "name"}}
	if p.Kind != drawing.Diode {
		head = append(head, run{"\u00a0" + o.Name, ""})
	}
	term, _, _, _ := o.Kind.Terms()
	return [][]run{
		head,
		{{term[:1], "term"}, {term[1:], "sub"}, {"\u00a0" + small(o.Current, "A"), "current"}},
		{{"P", "term"}, {"\u00a0" + small(o.Dissipation, "W"), ""}},
	}
}

// railLines are a supply's voltage and, once, the current that it delivers.
func (f *Figure) railLines(p drawing.Part) [][]run {
	if f.Plain {
		return f.railSign(p)
	}
	if p.Device == "" {
		return [][]run{{{signed(p.Value), "volts"}}}
	}
	for _, rail := range f.Point.Supplies {
		if rail.Name == p.Device {
			return [][]run{{{signed(rail.Volts), "volts"}}, {{small(rail.Current, "A"), "current"}}}
		}
	}
	return nil
}

// sourceVolts is the voltage of an ideal source: its share of the bias, or its own.
func (f *Figure) sourceVolts(p drawing.Part) float64 {
	if p.Share > 0 {
		return p.Share * f.Point.Bias
	}
	return p.Value
}

// small writes a current or a power; under a nano-unit, which is leakage, it says
// only that.
func small(value float64, unit string) string {
	if value < 1e-9 && value > -1e-9 {
		return "< 1\u00a0n" + unit
	}
	return format.Quantity(value, unit)
}

// signed writes a voltage with its sign.
func signed(volts float64) string {
	text := format.Quantity(quiet(volts), "V")
	if volts > 0 && quiet(volts) != 0 {
		return "+" + text
	}
	return text
}

// quiet takes a voltage under a microvolt, which is the solver's rounding, for none.
func quiet(volts float64) float64 {
	if volts > -1e-6 && volts < 1e-6 {
		return 0
	}
	return volts
}

// ratio writes the turns of a transformer, both halves of a tapped winding.
func ratio(p drawing.Part) string {
	left, right := partValue(p.Value, quantity.Number), "1"
	if p.Taps[0] {
		left += "+" + left
	}
	if p.Taps[1] {
		right += "+" + right
	}
	return left + ":" + right
}

// plainLines are all that a plain drawing says of a part: its designation, and of the load
// what it is.
func plainLines(p drawing.Part) [][]run {
	switch {
	case p.Kind == drawing.Terminal:
		return nil
	case strings.HasPrefix(p.Key, "load."):
		return [][]run{{{"load", "name"}}}
	}
	return [][]run{{{p.Name, "name"}}}
}

// railSign is all that a plain drawing says of a supply.
func (f *Figure) railSign(p drawing.Part) [][]run {
	volts := p.Value
	for _, rail := range f.Point.Supplies {
		if rail.Name == p.Device {
			volts = rail.Volts
		}
	}
	if volts < 0 {
		return [][]run{{{"−", "name"}}}
	}
	return [][]run{{{"+", "name"}}}
}
