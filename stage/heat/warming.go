package heat

import "math"

// Warming is the temperatures of devices on one sink in time: each device is one
// heat capacity behind its resistance to the sink, the sink another behind its
// resistance to the air.
type Warming struct {
	Chain
	SinkStore     float64 // J/K
	JunctionStore float64 // J/K, each device
	Sink          float64 // K
	Junctions     []float64
}

// NewWarming returns devices and sink at the ambient temperature.
func NewWarming(c Chain, sinkStore, junctionStore float64, devices int) *Warming {
	w := &Warming{Chain: c, SinkStore: sinkStore, JunctionStore: junctionStore, Sink: c.Ambient}
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
}

// settle moves a temperature toward its end by an exponential.
func settle(from, end, constants float64) float64 {
	return from - (end-from)*math.Expm1(-constants)
}
