// Package heat is the way of the heat out of a power stage: the chain of thermal
// resistances from each junction to the air, and the temperatures along it, steady and
// in time.
//
// Temperatures are kelvins, powers watts, thermal resistances kelvins per watt.
// Hot heatsinks burn and hot junctions fail; figures from here are for choosing
// where to measure, not instead of measuring.
package heat

import "math"

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

// Warming is the temperatures of devices on one sink in time: each device is one
// heat capacity behind its resistance to the sink, the sink another behind its
// resistance to the air. A bias part follows the sink, and may lag behind it.
type Warming struct {
	Chain
	SinkStore     float64 // J/K
	JunctionStore float64 // J/K, each device
	Coupling      float64 // how much of the sink's rise the bias part follows in the end, 0 to 1
	BiasConstant  float64 // time constant of its lag, s; 0: none
	Sink          float64 // K
	Junctions     []float64
	Bias          float64 // K
}

// NewWarming returns devices and sink at the ambient temperature.
func NewWarming(c Chain, sinkStore, junctionStore float64, devices int) *Warming {
	w := &Warming{Chain: c, SinkStore: sinkStore, JunctionStore: junctionStore, Sink: c.Ambient, Bias: c.Ambient}
	for range devices {
		w.Junctions = append(w.Junctions, c.Ambient)
	}
	return w
}

// Advance moves on by seconds with constant powers, one a device. Each store
// follows the exact exponential of its own time constant with the others held; the
// step must be short against the shortest of them for the whole to be right. It
// panics unless there are as many powers as devices.
func (w *Warming) Advance(powers []float64, seconds float64) {
	if len(powers) != len(w.Junctions) {
		panic("heat: as many powers as devices are needed")
	}
	theta := w.JunctionToCase + w.CaseToSink
	flow := 0.0
	for i, p := range powers {
		before := w.Junctions[i]
		w.Junctions[i] = settle(before, w.Sink+theta*p, seconds/(theta*w.JunctionStore))
		// What the device does not keep goes on into the sink.
		flow += p - w.JunctionStore*(w.Junctions[i]-before)/seconds
	}
	w.Sink = settle(w.Sink, w.Ambient+w.SinkToAir*flow, seconds/(w.SinkToAir*w.SinkStore))
	w.follow(seconds)
}

// settle moves a temperature toward its end by an exponential.
func settle(from, end, constants float64) float64 {
	return from - (end-from)*math.Expm1(-constants)
}
