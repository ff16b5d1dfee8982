package audibility

import (
	"encoding/json"
	"io"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 2

// Result is one search and the conditions under which it was made.
type Result struct {
	Schema  int     `json:"schema"`
	Program string  `json:"program"`
	Version string  `json:"version"`
	Stage   string  `json:"stage"`
	Title   string  `json:"title"`
	Drive   float64 `json:"drive_v"`
	Optimum float64 `json:"optimum_quiescent_a"`
	// Heard is what the prediction holds for, by the model of the version named. Limit
	// is a probability of noticing, and LimitDPrime the d' that it stands for.
	Heard       hearing.Conditions `json:"conditions"`
	Model       string             `json:"model"`
	Limit       float64            `json:"limit"`
	LimitDPrime float64            `json:"limit_d_prime"`
	Match       string             `json:"match"`

	Findings     []Finding     `json:"findings"`
	Grids        []Grid        `json:"grids"`
	Correlations []Correlation `json:"correlations,omitempty"`
	// Excerpts are the moments at which a difference is predicted to be heard
	// first, cut out.
	Excerpts []Excerpt `json:"excerpts,omitempty"`
}

// Excerpt is a stretch of one piece at one level, as a pair of files beside the
// page.
type Excerpt struct {
	Material  string   `json:"material"`
	Level     level.DB `json:"level_db"`
	Quiescent float64  `json:"quiescent_a"`
	From      float64  `json:"from_s"`
	To        float64  `json:"to_s"`
	Reference string   `json:"reference"`
	Rendering string   `json:"rendering"`
}

// New begins the result of a search with options.
func New(program, version string, o Options) Result {
	return Result{
		Schema: SchemaVersion, Program: program, Version: version,
		Heard: o.Heard, Model: hearing.ModelVersion, Limit: o.Limit, LimitDPrime: hearing.Sensitivity(o.Limit),
	}
}

// WriteJSON writes the result for programs.
func (r *Result) WriteJSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}
