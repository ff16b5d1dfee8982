package stage

import (
	"slices"

	"quietcross/stage/circuits"
	"quietcross/stage/heat"
)

// Warmth is a dynamic stage's temperatures as its own heat moves them.
type Warmth struct {
	Seconds      float64 // since it began
	Temperatures circuits.Temperatures
	Sink         float64 // K
	TooHot       bool    // a junction has passed its maximum temperature

	warming *heat.Warming
	begun   []float64 // energies of the output devices at the last update, J
	since   float64   // ledger seconds at the last update
}

// warmthSeconds is how often the devices are taken to their temperatures. Junctions
// of the smallest legal store are slower than that in all but toy stages.
const warmthSeconds = 2e-3

// FollowHeat lets the stage's temperatures follow its dissipation from now on,
// beginning at the ambient temperature or, for a stage that has warmed up already,
// at the given temperatures with the sink at sink kelvins. Output devices have one
// heat capacity each and the sink another; bias parts follow the sink by the spec's
// coupling, with the spec's lag. The device laws move with them every 2 ms, so the bias drifts with the
// programme. It opens the stage's ledger if that is not open yet, and returns what
// Process goes on updating.
//
// A junction above its maximum temperature sets TooHot: in truth such a device
// fails, and may short its rail to the loudspeaker. Here it goes on.
func (d *Dynamic) FollowHeat(from circuits.Temperatures, sink float64) *Warmth {
	if d.ledger == nil {
		d.OpenLedger()
	}
	outputs := d.biased.net.All()
	w := &Warmth{Temperatures: from, Sink: sink, since: d.ledger.Seconds, begun: make([]float64, len(outputs))}
	w.warming = d.biased.stage.warming(len(outputs))
	w.warming.Sink, w.warming.Bias = sink, from.Bias
	spread(w.warming.Junctions, d.biased.net, from)
	for i, o := range outputs {
		w.begun[i] = d.ledger.Devices[o]
	}
	d.warmth = w
	d.biased.net.SetTemperatures(from)
	return w
}

// warming returns the stage's thermal chain in time, at the spec's air.
func (s *Stage) warming(devices int) *heat.Warming {
	th := &s.spec.Thermal
	w := heat.NewWarming(s.Chain(), th.SinkStore, th.JunctionStore, devices)
	w.Coupling, w.BiasConstant = th.Coupling, s.spec.BiasConstant()
	return w
}

// spread gives each output device's junction the temperature of its side.
func spread(junctions []float64, net *circuits.Network, t circuits.Temperatures) {
	i := 0
	for side, devices := range net.Sides {
		for range devices {
			junctions[i] = []float64{t.Upper, t.Lower}[side]
			i++
		}
	}
}

// gather takes the temperature of each side from the hottest of its junctions.
func gather(t *circuits.Temperatures, net *circuits.Network, junctions []float64) {
	i := 0
	for side, devices := range net.Sides {
		hottest := slices.Max(junctions[i : i+len(devices)])
		i += len(devices)
		if side == 0 {
			t.Upper = hottest
		} else {
			t.Lower = hottest
		}
	}
}

// warm updates the temperatures when it is time.
func (d *Dynamic) warm() {
	w := d.warmth
	seconds := d.ledger.Seconds - w.since
	if seconds < warmthSeconds {
		return
	}
	powers := make([]float64, len(w.begun))
	for i, o := range d.biased.net.All() {
		powers[i] = (d.ledger.Devices[o] - w.begun[i]) / seconds
		w.begun[i] = d.ledger.Devices[o]
	}
	w.since = d.ledger.Seconds
	w.Seconds += seconds
	w.warming.Advance(powers, seconds)
	w.Sink = w.warming.Sink
	gather(&w.Temperatures, d.biased.net, w.warming.Junctions)
	w.Temperatures.Bias = w.warming.Bias
	w.TooHot = w.TooHot || max(w.Temperatures.Upper, w.Temperatures.Lower) > d.biased.stage.spec.Thermal.MaximumJunction
	d.biased.net.SetTemperatures(w.Temperatures)
}
