package circuits

import (
	"math"

	"quietcross/stage/quantity"
)

// Each circuit has one part that a builder turns to set the quiescent current. A Trim
// is the way of that part from the least bias to the most, as one continuous
// position: 0 at the least, 1 after the first leg, and so on to the number of legs.
// Along each leg one value of the stage file moves by equal ratios. Most circuits have
// one leg, a resistor. A string of bias diodes has two, since one part cannot go below
// and above what the diodes give: a trimmer across the string takes current from it
// until it is taken out, and then one in series with the string adds to its voltage.

// Trim is the trimmed part of a circuit's bias.
type Trim struct{ legs []leg }

// leg is one value on its way, From the least bias To the most, both above 0.
type leg struct {
	Trimmer
	from, to float64
	set      func(p *Parts, value float64)
	// fitted returns the value and whether the part is there.
	fitted func(p *Parts) (float64, bool)
}

// Trimmer names the part that is trimmed and its value.
type Trimmer struct {
	Key   string // in the stage file, such as "multiplier.bottom"
	Name  string // for people
	Unit  quantity.Unit
	Value float64
}

// Legs returns the position of the most bias.
func (t *Trim) Legs() float64 { return float64(len(t.legs)) }

// Set returns parts with the trimmed part at a position, 0 to Legs.
func (t *Trim) Set(p Parts, position float64) (Parts, Trimmer) {
	i := min(max(int(position), 0), len(t.legs)-1)
	l := t.legs[i]
	part := position - float64(i)
	trimmer := l.Trimmer
	trimmer.Value = l.from * math.Exp(part*math.Log(l.to/l.from))
	if part == 1 {
		trimmer.Value = l.to
	}
	l.set(&p, trimmer.Value)
	return p, trimmer
}

// Position returns where the part as built stands.
func (t *Trim) Position(p *Parts) float64 {
	for i, l := range t.legs {
		if value, ok := l.fitted(p); ok {
			return float64(i) + min(max(math.Log(value/l.from)/math.Log(l.to/l.from), 0), 1)
		}
	}
	return 1 // between the legs: no trimmer is there
}

// Trim returns the trimmed part of a stage's bias, or nil for a stage that has no bias
// parts: a tap that nothing feeds.
func (k *Kind) Trim(p *Parts) *Trim {
	if k.trim == nil {
		return nil
	}
	return k.trim(p)
}

// The ends of a trimmer's way, ohms: a trimmer across diodes that is next to a short
// circuit or to nothing, and one in series likewise.
const (
	acrossLeast, acrossMost = 0.1, 1e12
	seriesLeast, seriesMost = 1e-9, 1e4
)

// diodeTrim is the trimmer of a string of bias diodes. What stands in series when the
// trimming begins goes before one across comes in.
func diodeTrim(*Parts) *Trim {
	return &Trim{[]leg{{
		Trimmer: Trimmer{Key: "bias.trimmer_across", Name: "trimmer across the bias diodes", Unit: quantity.Ohm},
		from:    acrossLeast, to: acrossMost,
		set:    func(p *Parts, ohms float64) { p.Bias.Across, p.Bias.Series = ohms, 0 },
		fitted: func(p *Parts) (float64, bool) { return p.Bias.Across, p.Bias.Across > 0 },
	}, {
		Trimmer: Trimmer{Key: "bias.trimmer_series", Name: "trimmer in series with the bias diodes", Unit: quantity.Ohm},
		from:    seriesLeast, to: seriesMost,
		set:    func(p *Parts, ohms float64) { p.Bias.Across, p.Bias.Series = 0, ohms },
		fitted: func(p *Parts) (float64, bool) { return p.Bias.Series, p.Bias.Series > 0 },
	}}}
}

// multiplierTrim is the multiplier's resistor from base to emitter: where a trimmer is
// put, for one that opens there leaves the least bias and not the most (common
// practice).
func multiplierTrim(*Parts) *Trim {
	return &Trim{[]leg{{
		Trimmer: Trimmer{Key: "multiplier.bottom", Name: "multiplier's resistor from base to emitter", Unit: quantity.Ohm},
		from:    1e6, to: 1,
		set:    func(p *Parts, ohms float64) { p.Multiplier.Bottom = ohms },
		fitted: func(p *Parts) (float64, bool) { return p.Multiplier.Bottom, true },
	}}}
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
