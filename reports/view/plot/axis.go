package plot

import (
	"fmt"
	"math"

	"quietcross/reports/view/format"
)

// Axis is one scale of a figure.
type Axis struct {
	// Label names the quantity in words and Unit its unit; both may be empty.
	Label, Unit string
	// SI tells that the unit takes SI prefixes, as Hz and V do and dB does not.
	SI bool
	// Lo and Hi are the ends, Lo below Hi, both finite; above zero when Log.
	Lo, Hi float64
	// Log makes the scale logarithmic.
	Log bool
}

func (a Axis) check() {
	bad := !(a.Lo < a.Hi) || math.IsInf(a.Lo, 0) || math.IsInf(a.Hi, 0) || a.Log && a.Lo <= 0
	if bad {
		panic(fmt.Sprintf("plot: axis %q from %g to %g spans nothing", a.Label, a.Lo, a.Hi))
	}
}

// Position maps a value to the axis: 0 at Lo, 1 at Hi, beyond that range
// outside it. On a logarithmic axis zero and negative values give -Inf.
func (a Axis) Position(value float64) float64 {
	if !a.Log {
		return (value - a.Lo) / (a.Hi - a.Lo)
	}
	if value <= 0 {
		return math.Inf(-1)
	}
	return math.Log(value/a.Lo) / math.Log(a.Hi/a.Lo)
}

// Value is the inverse of [Axis.Position].
func (a Axis) Value(position float64) float64 {
	if !a.Log {
		return a.Lo + position*(a.Hi-a.Lo)
	}
	return a.Lo * math.Pow(a.Hi/a.Lo, position)
}

// caption is the text beside the axis: quantity and unit, with the prefix that
// the tick labels of a linear axis share.
func (a Axis) caption() string {
	_, prefix := a.prefix()
	unit := prefix + a.Unit
	switch {
	case a.Label == "":
		return unit
	case unit == "":
		return a.Label
	default:
		return a.Label + " (" + unit + ")"
	}
}

// prefix returns the factor that all tick labels of a linear axis share.
func (a Axis) prefix() (scale float64, prefix string) {
	if !a.SI || a.Log {
		return 1, ""
	}
	return format.Prefix(max(math.Abs(a.Lo), math.Abs(a.Hi)))
}
