package inspect

import (
	"encoding/json"
	"io"

	"quietcross/corpus/bias"
	"quietcross/stage"
	"quietcross/stage/network"
)

// SchemaVersion is the version of the JSON that [Inspection.WriteJSON] writes.
const SchemaVersion = 2

// document is the JSON of an inspection. Values are in SI base units.
type document struct {
	Schema  int        `json:"schema"`
	Stage   string     `json:"stage"`
	Title   string     `json:"title"`
	Circuit string     `json:"circuit"`
	Inverts bool       `json:"inverts,omitempty"` // the output falls while the input rises
	Drive   float64    `json:"drive_v"`
	Optimum float64    `json:"optimum_a,omitempty"`
	Rungs   []jsonRung `json:"rungs"`
}

type jsonRung struct {
	Label string `json:"label"`
	bias.Rung
	Output      float64      `json:"output_v"`
	Dissipation float64      `json:"dissipation_w"` // of all devices at rest
	Supplies    []jsonRail   `json:"supplies"`
	Devices     []jsonDevice `json:"devices"`
	Curve       []jsonSample `json:"curve"`
	Near        []jsonSample `json:"crossover_curve"`
	Powers      []jsonPower  `json:"powers"`
	Rest        bias.Thermal `json:"settled_at_rest"`
	Full        bias.Thermal `json:"settled_at_drive"`
	Limits      jsonLimits   `json:"limits"`
}

// jsonLimits is what a setting does at the edges of what its parts stand.
type jsonLimits struct {
	Broken    []string        `json:"broken"`
	Drift     []jsonMoment    `json:"drift"`
	Rested    float64         `json:"drift_rested_s"`
	Quietened float64         `json:"drift_quietened_s"`
	Case      float64         `json:"case_k"`
	Heat      float64         `json:"hottest_device_w"`
	AngleHeat *float64        `json:"hottest_device_at_45_degrees_w"`
	Use       float64         `json:"safe_area_used,omitempty"`
	AngleUse  float64         `json:"safe_area_used_at_45_degrees,omitempty"`
	Transient *bias.Transient `json:"transient_intermodulation"`
	Rails     []jsonRailUnder `json:"rails_at_drive"`
	Hum       float64         `json:"hum_v,omitempty"`
}

type jsonMoment struct {
	Seconds   float64 `json:"s"`
	Quiescent float64 `json:"quiescent_a"`
	Junction  float64 `json:"junction_k"`
	Sink      float64 `json:"sink_k"`
	Bias      float64 `json:"bias_part_k"`
}

type jsonRailUnder struct {
	Name     string  `json:"name"`
	Unloaded float64 `json:"unloaded_v"`
	Mean     float64 `json:"mean_v"`
	Current  float64 `json:"current_a"`
	Ripple   float64 `json:"ripple_v"`
}

func newJSONLimits(l *Limits) jsonLimits {
	j := jsonLimits{
		Broken: append([]string{}, l.Broken...), Rested: l.Rested, Quietened: l.Quietened, Case: l.Case,
		Heat: l.Line.Heat, Use: l.Line.Worst.Use, Transient: l.Transient, Hum: l.Hum.Output,
	}
	for _, m := range l.Drift.Moments {
		j.Drift = append(j.Drift, jsonMoment{m.Seconds, m.Quiescent, m.Hottest(), m.Sink, m.Bias})
	}
	if l.Angle != nil {
		j.AngleHeat, j.AngleUse = &l.Angle.Heat, l.Angle.Worst.Use
	}
	for _, r := range l.Rails {
		j.Rails = append(j.Rails, jsonRailUnder(r))
	}
	return j
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
		Schema: SchemaVersion, Stage: look.Spec.Name, Title: look.Spec.Title, Circuit: look.Spec.Circuit, Inverts: look.Inverts, Drive: look.Drive, Optimum: look.Optimum,
	}
	for _, rung := range look.Rungs {
		d.Rungs = append(d.Rungs, newJSONRung(&rung))
	}
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(d)
}

func newJSONRung(r *Rung) jsonRung {
	j := jsonRung{
		Label: r.Label, Rung: r.Rung, Output: r.Point.Output, Dissipation: r.Point.Dissipation,
		Curve: samples(r.Curve), Near: samples(r.Near), Rest: r.Rest, Full: r.Full, Limits: newJSONLimits(&r.Limits),
	}
	for _, p := range r.Powers {
		j.Powers = append(j.Powers, jsonPower{
			Peak: p.Peak, Supply: p.Supply, Load: p.Load, Dissipation: p.Dissipation(), Efficiency: p.Efficiency, Class: string(p.Class),
		})
	}
	for _, rail := range r.Point.Supplies {
		j.Supplies = append(j.Supplies, jsonRail(rail))
	}
	for _, device := range r.Point.Devices {
		j.Devices = append(j.Devices, newJSONDevice(device))
	}
	return j
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
