package heat

import "math"

// Limit names what bounds a device's current at a voltage.
type Limit string

// The limits of a safe operating area.
const (
	CurrentLimit    Limit = "current"
	PowerLimit      Limit = "power"
	BreakdownLimit  Limit = "second breakdown"
	VoltageLimit    Limit = "voltage"
	areaCaseKelvins       = 298.15 // the case temperature that the corners are given for
)

// Area is the safe operating area of a device for steady operation, by its corners with
// the case at 25 degrees Celsius, as data sheets draw it: a current, a power, from some
// voltage on a straight line in logarithms to a current at the maximum voltage, and that
// voltage. Power and second breakdown are derated in a straight line to nothing at the
// maximum junction temperature (common practice; data sheets derate second breakdown
// less, so that this is on the safe side). Pulses may be allowed more than this.
type Area struct {
	Current, Power   float64 // A, W
	BreakdownVolts   float64 // where second breakdown takes over; 0: none
	BreakdownCurrent float64 // A at Volts
	Volts            float64
	Maximum          float64 // junction temperature, K
}

// Derating returns the part of power that is left with the case at a temperature, K.
func (a *Area) Derating(caseKelvins float64) float64 {
	return min(max((a.Maximum-caseKelvins)/(a.Maximum-areaCaseKelvins), 0), 1)
}

// At returns the maximum current at a voltage above 0 with the case at a temperature, and
// what bounds it.
func (a *Area) At(volts, caseKelvins float64) (amperes float64, by Limit) {
	if volts > a.Volts {
		return 0, VoltageLimit
	}
	amperes, by = a.Current, CurrentLimit
	left := a.Derating(caseKelvins)
	if p := left * a.Power / volts; p < amperes {
		amperes, by = p, PowerLimit
	}
	if a.BreakdownVolts > 0 && volts > a.BreakdownVolts {
		from := a.Power / a.BreakdownVolts
		slope := math.Log(a.BreakdownCurrent/from) / math.Log(a.Volts/a.BreakdownVolts)
		if s := left * from * math.Pow(volts/a.BreakdownVolts, slope); s < amperes {
			amperes, by = s, BreakdownLimit
		}
	}
	return amperes, by
}
