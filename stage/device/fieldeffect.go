package device

import (
	"math"

	"quietcross/dsp/elementary"
)

// FieldEffect is the law of an enhancement field-effect transistor from
// subthreshold conduction through to the square law, in one smooth expression
// (C. C. Enz, F. Krummenacher and E. A. Vittoz, Analog Integrated Circuits and
// Signal Processing 8:83, 1995), for a source tied to its body.
type FieldEffect struct {
	Threshold      float64 // gate-source threshold at Reference, V
	Beta           float64 // transconductance parameter at Reference, A/V^2, > 0
	Slope          float64 // subthreshold slope factor n, >= 1
	Modulation     float64 // channel-length modulation, 1/V; 0: none
	ThresholdSlope float64 // fall of the threshold with temperature, V/K
	GainExponent   float64 // beta falls with absolute temperature to this power
	Reference      float64 // K
}

// At takes the law to an absolute temperature in kelvins.
func (f FieldEffect) At(kelvin float64) Channel {
	vt := ThermalVoltage(kelvin)
	beta := f.Beta * elementary.Pow(kelvin/f.Reference, -f.GainExponent)
	return Channel{
		threshold:  f.Threshold - f.ThresholdSlope*(kelvin-f.Reference),
		specific:   2 * f.Slope * beta * vt * vt,
		slope:      f.Slope,
		thermal:    vt,
		modulation: f.Modulation,
	}
}

// Channel is a FieldEffect at one temperature.
type Channel struct {
	threshold, specific, slope, thermal, modulation float64
}

// Current returns the drain current at gate-source and drain-source voltages,
// and its derivatives by them:
//
//	vp = (VGS - VT0)/n, F(v) = ln^2(1 + exp(v/(2 kT/q)))
//	ID = 2 n beta (kT/q)^2 (F(vp) - F(vp - VDS)) (1 + modulation |VDS|)
//
// Far over threshold and with VDS over vp it is beta (VGS - VT0)^2/(2 n).
func (c *Channel) Current(vgs, vds float64) (id, byVGS, byVDS float64) {
	vp := (vgs - c.threshold) / c.slope
	forward, gf := c.branch(vp)
	reverse, gr := c.branch(vp - vds)
	length, lengthSlope := 1.0, 0.0
	if c.modulation > 0 {
		// A smooth |VDS|, so that the conductance has no step at 0 V.
		smooth := math.Sqrt(vds*vds + c.thermal*c.thermal)
		length = 1 + c.modulation*(smooth-c.thermal)
		lengthSlope = c.modulation * vds / smooth
	}
	base := c.specific * (forward - reverse)
	id = base * length
	byVGS = c.specific * (gf - gr) / c.slope * length
	byVDS = c.specific*gr*length + base*lengthSlope
	return id, byVGS, byVDS
}

// branch returns ln^2(1 + exp(v/(2 VT))) and its derivative.
func (c *Channel) branch(v float64) (value, slope float64) {
	x := v / (2 * c.thermal)
	var l, s float64 // softplus and logistic function
	if x > 40 {
		l, s = x, 1
	} else {
		e := elementary.Exp(x)
		l, s = math.Log1p(e), e/(1+e)
	}
	return l * l, l * s / c.thermal
}
