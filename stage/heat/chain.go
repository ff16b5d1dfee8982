// Package heat is the way of the heat out of a power stage: the chain of thermal
// resistances from each junction to the air, the temperatures along it, and the
// limit beyond which a device's bias runs away with its own warmth.
//
// Temperatures are kelvins, powers watts, thermal resistances kelvins per watt.
// Hot heatsinks burn and hot junctions fail; figures from here are for choosing
// where to measure, not instead of measuring.
package heat

// Chain is the thermal path of devices that share one sink. A thermal resistance
// that is absent is 0.
type Chain struct {
	Ambient        float64 // air, K
	JunctionToCase float64 // each device, K/W
	CaseToSink     float64 // each device, K/W
	SinkToAir      float64 // shared, K/W
}

// Temperatures along a chain, in kelvins.
type Temperatures struct {
	Junctions []float64
	Cases     []float64
	Sink      float64
}

// Steady returns the temperatures at steady mean powers, one a device.
func (c Chain) Steady(powers ...float64) Temperatures {
	total := 0.0
	for _, p := range powers {
		total += p
	}
	return c.AboveSink(c.Ambient+c.SinkToAir*total, powers...)
}

// AboveSink returns the temperatures with the sink held at a temperature, as it
// is while it has not had time to follow the powers.
func (c Chain) AboveSink(sink float64, powers ...float64) Temperatures {
	t := Temperatures{Sink: sink}
	for _, p := range powers {
		box := sink + c.CaseToSink*p
		t.Cases = append(t.Cases, box)
		t.Junctions = append(t.Junctions, box+c.JunctionToCase*p)
	}
	return t
}

// Total returns the thermal resistance from one junction to the air with that
// device alone on the sink.
func (c Chain) Total() float64 { return c.JunctionToCase + c.CaseToSink + c.SinkToAir }

// MaximumPower returns the mean power that brings a lone device's junction to a
// temperature: (junction - ambient)/Total.
func (c Chain) MaximumPower(junction float64) float64 {
	return (junction - c.Ambient) / c.Total()
}

// Feedback returns the thermal loop gain of a device held at a base-emitter bias
// that does not follow its temperature: how much power, per watt, one watt of
// its own adds through the fall of its base-emitter voltage,
//
//	theta VCE |dVBE/dT| / (VT/IC + RE)
//
// with theta in K/W, VCE in V, dVBE/dT in V/K, VT = kT/q in V, IC in A and RE in
// ohms. At 1 and above the bias runs away; it grows in proportion to theta, so the
// maximum theta is 1/Feedback(1, ...). (Textbook; the form is from memory.)
func Feedback(theta, vce, slope, vt, ic, re float64) float64 {
	if slope < 0 {
		slope = -slope
	}
	return theta * vce * slope / (vt/ic + re)
}
