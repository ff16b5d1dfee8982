package plot

import (
	"fmt"
	"math"
	"strconv"

	"quietcross/reports/view/format"
)

// Tick is one mark of an axis.
type Tick struct {
	// Value is where it stands, in the axis's unit.
	Value float64
	// Label is empty for a minor tick.
	Label string
}

// Ticks returns the marks of an axis that is length px long, with at least room
// px between labelled ones, in rising order. Labelled ticks are whole multiples
// of 1, 2 or 5 times a power of ten, on a logarithmic axis 1-2-5 within each
// decade, or whole decades where that would be too dense. It panics unless both
// lengths are above 0.
func (a Axis) Ticks(length, room float64) []Tick {
	a.check()
	if !(length > 0 && room > 0) {
		panic(fmt.Sprintf("plot: ticks %g px apart on an axis of %g px", room, length))
	}
	if a.Log {
		if ticks, ok := a.logTicks(length, room); ok {
			return ticks
		}
	}
	return a.linearTicks(length, room)
}

// step returns the smallest 1-2-5 step whose marks stand room px apart, and
// into how many parts minor ticks divide it.
func (a Axis) step(length, room float64) (step float64, parts int) {
	minimum := (a.Hi - a.Lo) * room / length
	power := math.Pow10(int(math.Floor(math.Log10(minimum))))
	switch {
	case minimum <= power*(1+1e-9):
		return power, 5
	case minimum <= 2*power:
		return 2 * power, 4
	case minimum <= 5*power:
		return 5 * power, 5
	default:
		return 10 * power, 5
	}
}

func (a Axis) linearTicks(length, room float64) []Tick {
	step, parts := a.step(length, room)
	scale, _ := a.prefix()
	decimals := max(0, int(-math.Floor(math.Log10(step/scale)+1e-9)))
	small := step / float64(parts)
	const slack = 1e-9
	first := int(math.Ceil(a.Lo/small - slack))
	last := int(math.Floor(a.Hi/small + slack))
	ticks := make([]Tick, 0, last-first+1)
	for k := first; k <= last; k++ {
		tick := Tick{Value: float64(k) * small}
		if k%parts == 0 {
			tick.Value = float64(k/parts) * step
			tick.Label = format.Fixed(tick.Value/scale, decimals)
			if a.Log {
				tick.Label = a.logLabel(tick.Value)
			}
		}
		ticks = append(ticks, tick)
	}
	return ticks
}

// logTicks returns false when the axis is too short for two labels of the
// 1-2-5 series; linear ones serve better then.
func (a Axis) logTicks(length, room float64) (ticks []Tick, ok bool) {
	decade := length / math.Log10(a.Hi/a.Lo)
	dense := decade*math.Log10(2) >= room
	every := 1
	for decade*float64(every) < room {
		every++
	}
	const slack = 1e-9
	labels := 0
	for e := int(math.Floor(math.Log10(a.Lo))); e <= int(math.Ceil(math.Log10(a.Hi))); e++ {
		for m := 1; m <= 9; m++ {
			value := float64(m) * math.Pow10(e)
			if value < a.Lo*(1-slack) || value > a.Hi*(1+slack) {
				continue
			}
			tick := Tick{Value: value}
			if m == 1 && e%every == 0 || dense && (m == 2 || m == 5) {
				tick.Label = a.logLabel(value)
				labels++
			} else if decade < 30 && m != 1 {
				continue
			}
			ticks = append(ticks, tick)
		}
	}
	return ticks, labels >= 2
}

// logLabel writes one tick with its own prefix joined to the number ("20",
// "1k"), for the unit stands in the caption.
func (a Axis) logLabel(value float64) string {
	prefix := ""
	if a.SI {
		var scale float64
		scale, prefix = format.Prefix(value * (1 + 1e-12))
		value /= scale
	}
	return strconv.FormatFloat(math.Round(value*1e9)/1e9, 'f', -1, 64) + prefix
}
