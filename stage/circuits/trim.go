package circuits

import (
	"quietcross/dsp/elementary"
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
	trimmer.Value = l.from * elementary.Exp(part*elementary.Log(l.to/l.from))
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
			return float64(i) + min(max(elementary.Log(value/l.from)/elementary.Log(l.to/l.from), 0), 1)
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
