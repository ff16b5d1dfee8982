package audibility

import (
	"encoding/json"
	"io"

	"quietcross/dsp/bs1387"
	"quietcross/dsp/level"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 1

// Result is one search and the conditions under which it was made.
type Result struct {
	Schema   int      `json:"schema"`
	Program  string   `json:"program"`
	Version  string   `json:"version"`
	Stage    string   `json:"stage"`
	Title    string   `json:"title"`
	Drive    float64  `json:"drive_v"`
	Optimum  float64  `json:"optimum_quiescent_a"`
	Playback level.DB `json:"playback_spl_db"`
	Limit    float64  `json:"limit"`
	Match    string   `json:"match"`

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
	// Products are what stands above both the threshold of hearing and the
	// masking of the programme at this current, the plainest first.
	Products []bs1387.Product `json:"products,omitempty"`
}

// WriteJSON writes the result for programs.
func (r *Result) WriteJSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}
