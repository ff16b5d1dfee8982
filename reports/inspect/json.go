package inspect

import (
	"encoding/json"
	"io"

	"quietcross/stage"
	"quietcross/stage/network"
)

// SchemaVersion is the version of the JSON that [Inspection.WriteJSON] writes.
const SchemaVersion = 1

// document is the JSON of an inspection. Values are in SI base units.
type document struct {
	Schema  int        `json:"schema"`
	Stage   string     `json:"stage"`
	Title   string     `json:"title"`
	Circuit string     `json:"circuit"`
	Inverts bool       `json:"inverts,omitempty"` // the output falls while the input rises
	Rungs   []jsonRung `json:"rungs"`
}

type jsonRung struct {
	Setting          string       `json:"setting"`
	Bias             float64      `json:"bias_v"`
	Quiescent        float64      `json:"quiescent_a"`
	OptimumQuiescent float64      `json:"optimum_quiescent_a,omitempty"`
	Output           float64      `json:"output_v"`
	SupplyPower      float64      `json:"supply_power_w"`
	Dissipation      float64      `json:"dissipation_w"`
	GainRest         float64      `json:"gain_rest"`
	GainFull         float64      `json:"gain_full"`
	GainLeast        float64      `json:"gain_minimum"`
	GainLeastAt      float64      `json:"gain_least_at_v"`
	CrossoverWidth   float64      `json:"crossover_width_v"`
	DeadZone         float64      `json:"dead_zone_v"`
	ClipLow          float64      `json:"clip_low_v"`
	ClipHigh         float64      `json:"clip_high_v"`
	Drive            float64      `json:"drive_v"`
	Supplies         []jsonRail   `json:"supplies"`
	Devices          []jsonDevice `json:"devices"`
	Curve            []jsonSample `json:"curve"`
	Near             []jsonSample `json:"crossover_curve"`
	Powers           []jsonPower  `json:"powers"`
	Rest             *jsonSettled `json:"settled_at_rest,omitempty"`
	Full             *jsonSettled `json:"settled_at_drive,omitempty"`
	Refusals         []string     `json:"refusals,omitempty"`
}

// jsonPower is a sine of an input peak.
type jsonPower struct {
	Peak        float64 `json:"in_peak_v"`
	Supply      float64 `json:"supply_w"`
	Load        float64 `json:"load_w"`
	Dissipation float64 `json:"dissipation_w"`
	Efficiency  float64 `json:"efficiency"`
	Class       string  `json:"class"`
}

// jsonSettled is the stage at the temperatures that its own heat gives it.
type jsonSettled struct {
	Upper     float64 `json:"upper_junction_k"`
	Lower     float64 `json:"lower_junction_k"`
	Sink      float64 `json:"sink_k"`
	Quiescent float64 `json:"quiescent_a"`
	Feedback  float64 `json:"thermal_loop_gain"`
}

type jsonRail struct {
	Name    string  `json:"name"`
	Volts   float64 `json:"voltage_v"`
	Current float64 `json:"current_a"`
}

type jsonDevice struct {
	Name           string  `json:"name"`
	Current        float64 `json:"current_a"`
	ControlCurrent float64 `json:"control_current_a"`
	Control        float64 `json:"control_v"`
	Main           float64 `json:"main_v"`
	Dissipation    float64 `json:"dissipation_w"`
}

type jsonSample struct {
	In   float64 `json:"in_v"`
	Out  float64 `json:"out_v"`
	Gain float64 `json:"gain"`
}

// WriteJSON writes the inspection for programs.
func (look *Inspection) WriteJSON(w io.Writer) error {
	d := document{
		Schema: SchemaVersion, Stage: look.Spec.Name, Title: look.Spec.Title, Circuit: look.Spec.Circuit, Inverts: look.Inverts,
	}
	for _, rung := range look.Rungs {
		d.Rungs = append(d.Rungs, newJSONRung(rung))
	}
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(d)
}

func newJSONRung(r Rung) jsonRung {
	j := jsonRung{
		Setting: r.Setting, Bias: r.Point.Bias, Quiescent: r.Point.Quiescent, OptimumQuiescent: r.OptimumQuiescent,
		Output: r.Point.Output, SupplyPower: r.Point.SupplyPower, Dissipation: r.Point.Dissipation,
		GainRest: r.GainRest, GainFull: r.GainFull, GainLeast: r.Crossover.Minimum, GainLeastAt: r.Crossover.MinimumAt,
		CrossoverWidth: r.Crossover.Width, DeadZone: r.Crossover.DeadZone,
		ClipLow: r.ClipLow, ClipHigh: r.ClipHigh, Drive: r.Drive,
		Curve: samples(r.Curve), Near: samples(r.Near),
	}
	for _, p := range r.Powers {
		j.Powers = append(j.Powers, jsonPower{
			Peak: p.Peak, Supply: p.Supply, Load: p.Load, Dissipation: p.Dissipation(), Efficiency: p.Efficiency, Class: string(p.Class),
		})
	}
	j.Rest, j.Full = newJSONSettled(r.Rest), newJSONSettled(r.Full)
	for _, refusal := range []string{r.RestRefusal, r.FullRefusal} {
		if refusal != "" {
			j.Refusals = append(j.Refusals, refusal)
		}
	}
	for _, rail := range r.Point.Supplies {
		j.Supplies = append(j.Supplies, jsonRail(rail))
	}
	for _, device := range r.Point.Devices {
		j.Devices = append(j.Devices, newJSONDevice(device))
	}
	return j
}

func newJSONSettled(s *stage.Settled) *jsonSettled {
	if s == nil {
		return nil
	}
	return &jsonSettled{Upper: s.Temperatures.Upper, Lower: s.Temperatures.Lower, Sink: s.Sink, Quiescent: s.Hot, Feedback: s.Feedback}
}

func newJSONDevice(d network.Operation) jsonDevice {
	return jsonDevice{
		Name: d.Name, Current: d.Current, ControlCurrent: d.ControlCurrent,
		Control: d.Control, Main: d.Main, Dissipation: d.Dissipation,
	}
}

func samples(curve []stage.Sample) []jsonSample {
	out := make([]jsonSample, len(curve))
	for i, s := range curve {
		out[i] = jsonSample(s)
	}
	return out
}
