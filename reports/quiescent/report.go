package quiescent

import (
	"encoding/json"
	"io"

	"quietcross/corpus/bias"
	"quietcross/reports/view/format"
	"quietcross/stage/device"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 4

// Report is what was worked out, and for several stages how they compare.
type Report struct {
	Schema  int       `json:"schema"`
	Program string    `json:"program"`
	Version string    `json:"version"`
	Stages  []*Result `json:"stages"`
	// Frontier is the marks of all stages that no other beats in both, in rising
	// order of heat; empty for one stage.
	Frontier []Mark `json:"frontier,omitempty"`
}

// New makes the report of results.
func New(program, version string, results []*Result) *Report {
	r := &Report{Schema: SchemaVersion, Program: program, Version: version, Stages: results}
	if len(results) > 1 {
		r.Frontier = frontier(results)
	}
	return r
}

// WriteJSON writes the report for programs.
func (r *Report) WriteJSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}

// Caveats say, in words, what the figures are worth. They go with every result.
var Caveats = []string{
	"What is heard is the prediction of a detection model held to published thresholds, on this material under the conditions stated. Nothing here is called inaudible; a blind test is the judge.",
	"Distortion and audibility are those of the stage with cold junctions at the current that is set; a warm stage runs at more current, as the guide says. Temperatures are steady ones, in still air, with nothing else in the case.",
	"Tolerances are common practice, not your parts' data sheets; the bias is the stage's own parts, which follow the sink as the stage file's coupling says.",
	"The exchange of distortion for heat in the rule is this program's, stated so that you can disagree with it: the curves and the table show what another would choose.",
}

func celsius(kelvin float64) string {
	return format.Fixed(kelvin-device.ZeroCelsius, 0) + "\u00a0°C"
}

func amperes(a float64) string { return format.Quantity(a, "A") }

// temperature writes where a stage settles, or that it does not.
func temperature(t *bias.Thermal) string {
	if t.Runaway() {
		return "runs away"
	}
	return celsius(t.Junction)
}
