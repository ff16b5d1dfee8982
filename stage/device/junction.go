package device

import (
	"math"

	"quietcross/dsp/elementary"
)

// Junction is the exponential diode law I = IS (exp(V/(n kT/q)) - 1) with its
// temperature law and a series resistance.
type Junction struct {
	Saturation float64 // IS at the reference temperature, A, > 0
	Emission   float64 // n, emission coefficient, 1 to 2 for silicon
	Series     float64 // ohms in series, >= 0; the network places it
	Exponent   float64 // X, temperature exponent of IS; 3 for silicon
	Gap        float64 // EG, energy gap in electron volts (as volts); about 1.11 for silicon
	Reference  float64 // temperature at which IS holds, K, > 0
}

// SaturationAt returns IS at an absolute temperature in kelvins:
//
//	IS (T/T0)^(X/n) exp(EG/n (1/VT0 - 1/VT))
//
// which keeps dV/dT = (V - EG - X kT/q)/T at constant current for every n.
func (j Junction) SaturationAt(kelvin float64) float64 {
	ratio := elementary.Pow(kelvin/j.Reference, j.Exponent/j.Emission)
	gap := j.Gap / j.Emission * (1/ThermalVoltage(j.Reference) - 1/ThermalVoltage(kelvin))
	return j.Saturation * ratio * elementary.Exp(gap)
}

// At takes the law to an absolute temperature in kelvins.
func (j Junction) At(kelvin float64) Diode {
	return NewDiode(j.SaturationAt(kelvin), j.Emission*ThermalVoltage(kelvin))
}

// Diode is a Junction at one temperature, without its series resistance. Make it
// by At or NewDiode.
type Diode struct {
	Saturation float64 // IS, A
	Scale      float64 // n kT/q, V
	Critical   float64 // V, above which a Newton step must be limited

	inverse float64 // 1/Scale
	slope   float64 // Saturation/Scale
}

// NewDiode returns the law of the given saturation current (A, > 0) and
// exponential scale n kT/q (V, > 0).
func NewDiode(saturation, scale float64) Diode {
	return Diode{
		Saturation: saturation, Scale: scale, Critical: criticalVoltage(saturation, scale),
		inverse: 1 / scale, slope: saturation / scale,
	}
}

// InSeries returns the law of count equal diodes in series, count >= 1: the
// same current at count times the voltage.
func (d Diode) InSeries(count int) Diode {
	return NewDiode(d.Saturation, d.Scale*float64(count))
}

// Current returns the current at a voltage and its derivative, the incremental
// conductance in siemens.
func (d *Diode) Current(v float64) (i, g float64) {
	e, slope := exp(v * d.inverse)
	return d.Saturation * (e - 1), d.slope * slope
}

// Limit returns the voltage at which to evaluate the law when an iteration
// proposes next after last: rises in the steep part grow logarithmically.
func (d *Diode) Limit(next, last float64) float64 {
	if next <= d.Critical || next-last <= d.Scale {
		return next
	}
	base := max(last, d.Critical)
	if next <= base {
		return next
	}
	return base + d.Scale*math.Log1p((next-base)/d.Scale)
}
