// Package device holds the laws of the parts that bend: the junction, the
// bipolar transistor and the constants and temperature laws they share. Each
// law gives its currents together with their analytic derivatives and stays
// finite for every finite voltage, so that a solver may try anything.
//
// A law is written down once with its part values (Junction, Bipolar) and then
// taken to a temperature with At, which does the slow arithmetic; the result
// (Diode, Transistor) is small, read-only and quick to evaluate.
//
// Voltages are volts, currents amperes, temperatures kelvins. A transistor's
// law is written for the NPN polarity; for a PNP negate all of its voltages and
// currents.
package device

import (
	"math"

	"quietcross/dsp/elementary"
)

// The defining constants of the SI (2019), and the zero of the Celsius scale.
const (
	Boltzmann   = 1.380649e-23    // J/K, exact
	Charge      = 1.602176634e-19 // C, exact
	ZeroCelsius = 273.15          // K, exact
	RoomKelvin  = 298.15          // K, 25 degrees Celsius: the usual data-sheet reference
)

// ThermalVoltage returns kT/q in volts at an absolute temperature in kelvins.
func ThermalVoltage(kelvin float64) float64 { return Boltzmann / Charge * kelvin }

// expLimit is the exponent beyond which [exp] goes on as its tangent. With a
// saturation current of 1e-18 A it is reached at 5e16 A: no solution lives
// there, only the iterates on the way to one.
const expLimit = 80

// nothing is an exponent whose exponential is lost beside one in a float64.
const nothing = -40

// exp returns e^x and its derivative; above expLimit the straight line that
// continues it with the same value and slope, and zero below nothing.
func exp(x float64) (e, slope float64) {
	if x < nothing {
		return 0, 0
	}
	if x <= expLimit {
		e = elementary.Exp(x)
		return e, e
	}
	slope = elementary.Exp(expLimit)
	return slope * (1 + x - expLimit), slope
}

// criticalVoltage is the junction voltage from which a Newton step must be limited:
// where the curve of current over voltage, in amperes and volts drawn alike, bends most.
// Its radius of curvature is (1 + I'^2)^(3/2)/I” (any textbook of calculus), which for
// I' = IS/(n VT) exp(V/(n VT)) and I” = I'/(n VT) is least at I' = 1/sqrt2, so that
// V = n VT ln(n VT/(sqrt2 IS)). A step from beyond it along the tangent overshoots by
// many n VT, as a step of Newton's method on an exponential does (J. M. Ortega and W. C.
// Rheinboldt, Iterative Solution of Nonlinear Equations in Several Variables, 1970, on
// damped steps).
func criticalVoltage(saturation, scale float64) float64 {
	return scale * elementary.Log(scale/(math.Sqrt2*saturation))
}
