package quiescent

import (
	"slices"

	"quietcross/corpus/bias"
	"quietcross/stage"
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
	// with no signal in the same air. Low and High are the minimum and the maximum
	// that it may come to read at rest, from cold to warm and from the coldest to
	// the hottest air.
	Cold float64 `json:"cold_v"`
	Warm float64 `json:"warm_v"`
	Low  float64 `json:"low_v"`
	High float64 `json:"high_v"`
	// ForWarm is the voltage to set cold so that the warm stage comes to read Cold,
	// and ForWarmQuiescent its current, A; 0 where none does.
	ForWarm          float64 `json:"for_warm_v"`
	ForWarmQuiescent float64 `json:"for_warm_a"`
	// Supply is the power drawn when warm, W, and Sink the sink's temperature, K.
	Supply float64 `json:"supply_w"`
	Sink   float64 `json:"sink_k"`
}

// guide makes the guide of a rung.
func (c *climber) guide(r *Rung) (Guide, error) {
	spec := c.stage.Spec()
	across := func(quiescent float64) float64 { return quiescent * spec.Emitter.Ohms }
	g := Guide{
		Quiescent: r.Quiescent, EmitterOhms: spec.Emitter.Ohms, Kelvin: spec.Thermal.Ambient,
		Cold: across(r.Quiescent), Warm: across(r.Rest.Quiescent),
		Supply: r.Rest.Supply, Sink: r.Rest.Sink,
	}
	readings := []float64{g.Cold, g.Warm, across(r.ColdAir.Quiescent), across(r.Idle.Quiescent)}
	g.Low, g.High = slices.Min(readings), slices.Max(readings)
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
