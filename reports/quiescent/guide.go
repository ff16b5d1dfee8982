package quiescent

import (
	"errors"
	"math"

	"quietcross/corpus/bias"
	"quietcross/reports/inspect"
	"quietcross/stage"
	"quietcross/stage/circuits"
)

// Guide is how to set the bias of a built unit: what to measure, and what it must
// read.
type Guide struct {
	// Quiescent is the current to set, A.
	Quiescent float64 `json:"quiescent_a"`
	// EmitterOhms is each emitter resistor; 0 where there is none, and the supply
	// current has to be measured instead.
	EmitterOhms float64 `json:"emitter_ohm"`
	// Kelvin is the temperature of the air and of all junctions at which Cold
	// holds, K.
	Kelvin float64 `json:"temperature_k"`
	// Cold is the voltage across each emitter resistor, the mean of both, just
	// after switching on, V, and Warm the voltage once the stage has warmed up
	// with no signal in the same air, after Seconds. Low and High are the minimum and the
	// maximum that a healthy unit, set to Cold, comes to read at rest once warm, from the
	// coldest to the hottest air; LowQuiescent and HighQuiescent are the currents, A. Each is
	// 0 where there is no emitter resistor.
	Cold          float64 `json:"cold_v"`
	Warm          float64 `json:"warm_v"`
	Seconds       float64 `json:"warm_after_s"`
	Low           float64 `json:"low_v"`
	High          float64 `json:"high_v"`
	LowQuiescent  float64 `json:"low_a"`
	HighQuiescent float64 `json:"high_a"`
	// Runs tells that a unit at the ends of its tolerances runs away in the hottest air.
	Runs bool `json:"runs_away,omitempty"`
	// ForWarm is the voltage to set cold so that the warm stage comes to read Cold,
	// and ForWarmQuiescent its current, A; 0 where none does.
	ForWarm          float64 `json:"for_warm_v"`
	ForWarmQuiescent float64 `json:"for_warm_a"`
	// Supply is the power drawn when warm, W, and Sink the sink's temperature, K.
	Supply float64 `json:"supply_w"`
	Sink   float64 `json:"sink_k"`
}

// guide makes the guide of a rung whose current parts set.
func (c *climber) guide(r *Rung, p *Parts) (Guide, error) {
	spec := c.stage.Spec()
	across := func(quiescent float64) float64 { return quiescent * spec.Emitter.Ohms }
	g := Guide{
		Quiescent: r.Quiescent, EmitterOhms: spec.Emitter.Ohms, Kelvin: spec.Thermal.Ambient,
		Cold: across(r.Quiescent), Warm: across(r.Rest.Quiescent),
		Seconds: inspect.WarmConstants * spec.Thermal.SinkStore * spec.Thermal.SinkToAir,
		Supply:  r.Rest.Supply, Sink: r.Rest.Sink,
	}
	if err := c.healthy(&g, r, p); err != nil {
		return g, err
	}
	g.Low, g.High = across(g.LowQuiescent), across(g.HighQuiescent)
	var err error
	g.ForWarmQuiescent, err = c.forWarm(r)
	g.ForWarm = across(g.ForWarmQuiescent)
	return g, err
}

// forWarm returns the current to set cold that warms up, at rest in the stage
// file's ambient temperature, to that of a rung; 0 where none does.
func (c *climber) forWarm(r *Rung) (float64, error) {
	ambient := c.stage.Spec().Thermal.Ambient
	excess := func(quiescent float64) (float64, error) {
		t, _, err := bias.Settle(c.stage, bias.Current(quiescent), stage.Conditions{Air: ambient, Maximum: c.options.Limits.Junction})
		return t.Quiescent - r.Quiescent, err
	}
	return coldFor(r.Quiescent, excess)
}

// A stage is set cold to at least the warm current over warmsUp, and to at most that
// current times coolsDown: what moves further is not to be set by its warm reading.
const (
	warmsUp   = 10
	coolsDown = 2
)

// coldFor returns the current to set cold at which the excess over a warm current, A,
// is 0; 0 where there is none in reach.
func coldFor(warm float64, excess func(quiescent float64) (float64, error)) (float64, error) {
	low, high := warm/warmsUp, warm*coolsDown
	for _, end := range []struct{ at, sign float64 }{{low, -1}, {high, 1}} {
		y, err := excess(end.at)
		if err != nil || y*end.sign < 0 {
			return 0, err
		}
	}
	return crossing(excess, low, high)
}

// What healthy units differ by, beside the tolerances of yield: deviations at their ends,
// and how far heatsinks and the mounting of bias parts are from what a file says (common
// practice).
const (
	deviations       = 2.5
	sinkTolerance    = 0.15
	contactTolerance = 0.1
)

// healthy finds what healthy units come to at rest that were set to the chosen reading, or
// of which nothing can be set:
// at the ends of their tolerances, all for the hotter or all for the cooler, with the
// current gains either way, in the coldest and in the hottest air.
func (c *climber) healthy(g *Guide, r *Rung, p *Parts) error {
	nominal, err := c.stage.Set(stage.Quiescent(r.Quiescent))
	if err != nil {
		return err
	}
	setting := stage.Quiescent(r.Quiescent)
	if p != nil && p.open() {
		setting = stage.AsBuilt() // nobody sets it
	}
	g.LowQuiescent, g.HighQuiescent = r.Rest.Quiescent, r.Rest.Quiescent
	t, limits := c.options.Tolerances, c.options.Limits
	for _, hotter := range []float64{1, -1} {
		for _, gain := range []float64{1, -1} {
			spec := nominal.Trimmed()
			for _, device := range []*circuits.Transistor{&spec.Upper, &spec.Lower} {
				device.Saturation *= math.Exp(-hotter * deviations * t.Lot)
				device.ForwardGain *= math.Exp(gain * deviations * t.Gain)
			}
			spec.UpperFET.Threshold += hotter * deviations * t.Threshold
			spec.LowerFET.Threshold += hotter * deviations * t.Threshold
			spec.Thermal.SinkToAir *= 1 + hotter*sinkTolerance
			spec.Thermal.Coupling = min(1, spec.Thermal.Coupling*(1-hotter*contactTolerance))
			for _, air := range []float64{limits.Coldest, limits.Hottest} {
				if err := g.unit(spec, setting, stage.Conditions{Air: air, Maximum: limits.Junction}); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// unit widens the range of healthy readings by a unit.
func (g *Guide) unit(spec stage.Spec, setting stage.Setting, conditions stage.Conditions) error {
	st, err := stage.New(spec)
	if err != nil {
		return nil // no device that there is
	}
	t, _, err := bias.Settle(st, setting, conditions)
	if refused := (*stage.Error)(nil); errors.As(err, &refused) {
		return nil // its parts do not reach the reading: it is not set to it
	}
	if err != nil {
		return err
	}
	if t.Runaway() {
		g.Runs = true
		return nil
	}
	g.LowQuiescent, g.HighQuiescent = min(g.LowQuiescent, t.Quiescent), max(g.HighQuiescent, t.Quiescent)
	return nil
}
