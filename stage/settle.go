package stage

import (
	"errors"
	"fmt"
	"math"

	"quietcross/stage/circuits"
	"quietcross/stage/device"
	"quietcross/stage/heat"
)

// ErrRunaway is what a refusal for thermal runaway wraps.
var ErrRunaway = errors.New("thermal runaway")

// ErrTooHot is what a refusal for a junction that would settle above its maximum
// temperature wraps.
var ErrTooHot = errors.New("junction too hot")

// Settled is a stage at the temperatures that its own heat gives it.
type Settled struct {
	Biased       *Biased // at these temperatures
	Temperatures circuits.Temperatures
	Sink         float64 // K
	Cold         float64 // quiescent current before warming up, A
	Hot          float64 // quiescent current at the settled temperatures, A
	Power        Power   // at the settled temperatures
	// Feedback is the thermal loop gain at the end: how much of a small temperature
	// change comes back through the circuit. At 1 there is no steady point.
	Feedback float64
}

const (
	settleSteps  = 400
	settleKelvin = 1e-4  // the part of a temperature that may be left to settle
	beyondLimit  = 200.0 // kelvins over the maximum junction temperature: given up
)

// Settle finds the steady temperatures of a stage with a sine of peak input volts
// (0: no signal) and returns the stage at them. The bias is set cold, at the
// ambient temperature, and its source or parts then stay as they are while the
// junctions warm up; bias diodes follow the sink by the spec's coupling.
//
// It starts cold and follows the heating up, so that the point found is the one
// that a stage switched on would reach. A bias that runs away is refused with an
// error that wraps ErrRunaway, and one that would settle above the maximum
// junction temperature with ErrTooHot; both say how far it went. Such a stage
// must not be built: it destroys itself and can burn.
func (s *Stage) Settle(setting Setting, peak float64) (Settled, error) {
	cold, err := s.At(circuits.Uniform(s.spec.Thermal.Ambient)).Set(setting)
	if err != nil {
		return Settled{}, err
	}
	w := warming{stage: s, cold: cold, peak: peak, t: cold.stage.warm}
	for range settleSteps {
		done, err := w.step()
		if err != nil {
			return Settled{}, err
		}
		if done {
			return w.settled()
		}
	}
	return Settled{}, w.refuse(ErrRunaway)
}

// warming is a stage on its way to steady temperatures.
type warming struct {
	stage *Stage
	cold  *Biased
	peak  float64
	t     circuits.Temperatures
	sink  float64
	power Power
	last  float64 // maximum temperature change of the last step, K
	loop  float64
}

// step moves the temperatures to those that the powers at the present ones give.
func (w *warming) step() (done bool, err error) {
	b, err := w.stage.At(w.t).restAt(w.cold.setting, w.cold.volts)
	if err != nil {
		return false, err
	}
	if w.power, err = b.Power(w.peak); err != nil {
		return false, err
	}
	next := w.heated(b.net.Outputs)
	change := max(math.Abs(next.Upper-w.t.Upper), math.Abs(next.Lower-w.t.Lower), math.Abs(next.Bias-w.t.Bias))
	first := w.last == 0
	w.loop = 0
	if !first {
		w.loop = change / w.last
	}
	w.t, w.last = next, change
	if w.hottest() > w.stage.spec.Thermal.MaximumJunction+beyondLimit {
		return false, w.refuse(ErrRunaway)
	}
	settled := !first && w.loop < 1 && change*w.loop/(1-w.loop) < settleKelvin
	return settled || change < settleKelvin*1e-3, nil
}

// Chain returns the thermal path of the stage's output devices.
func (s *Stage) Chain() heat.Chain {
	th := s.spec.Thermal
	return heat.Chain{
		Ambient: th.Ambient, JunctionToCase: th.JunctionToCase,
		CaseToSink: th.CaseToSink, SinkToAir: th.SinkToAir,
	}
}

// heated returns the temperatures that the present powers keep up.
func (w *warming) heated(outputs []int) circuits.Temperatures {
	th := w.stage.spec.Thermal
	powers := make([]float64, len(outputs))
	for i, o := range outputs {
		powers[i] = w.power.Devices[o].Mean
	}
	steady := w.stage.Chain().Steady(powers...)
	next := w.t
	next.Upper = steady.Junctions[0]
	if len(outputs) > 1 {
		next.Lower = steady.Junctions[1]
	}
	next.Bias = th.Ambient + th.Coupling*(steady.Sink-th.Ambient)
	w.sink = steady.Sink
	return next
}

func (w *warming) hottest() float64 { return max(w.t.Upper, w.t.Lower) }

// settled returns the result, unless a junction is too hot.
func (w *warming) settled() (Settled, error) {
	if w.hottest() > w.stage.spec.Thermal.MaximumJunction {
		return Settled{}, w.refuse(ErrTooHot)
	}
	b, err := w.stage.At(w.t).bias(w.cold.setting, w.cold.volts)
	if err != nil {
		return Settled{}, err
	}
	return Settled{
		Biased: b, Temperatures: w.t, Sink: w.sink, Power: w.power, Feedback: w.loop,
		Cold: w.cold.point.Quiescent, Hot: b.point.Quiescent,
	}, nil
}

// refuse says how far the stage warmed up and what to be careful of.
func (w *warming) refuse(reason error) error {
	celsius := func(k float64) float64 { return k - device.ZeroCelsius }
	return &Error{Key: "thermal", Err: fmt.Errorf(
		"%w: %v, the junction reaches %.0f C where %.0f C is the maximum, with a thermal loop gain of %.2f; "+
			"do not run such a stage: lower the bias or the rails, couple the bias part to the sink, or give it emitter resistors and a larger sink",
		reason, Setting{w.cold.setting.mode, fourDigits(w.cold.setting.value)}, celsius(w.hottest()), celsius(w.stage.spec.Thermal.MaximumJunction), w.loop)}
}
