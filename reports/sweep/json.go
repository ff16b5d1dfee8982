package sweep

import (
	"encoding/json"
	"io"

	"quietcross/reports/view/format"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 2

// Result is a sweep of one stage.
type Result struct {
	Schema  int    `json:"schema"`
	Program string `json:"program"`
	Version string `json:"version"`
	Title   string `json:"title"` // of the stage
	// Optimum is the quiescent current that the circuit's theory holds best, A; 0
	// if it has none.
	Optimum float64 `json:"optimum_a"`
	// Memory tells that the circuit has capacitors or windings, and that the law
	// swept is that of midband.
	Memory bool  `json:"memory"`
	Grid   *Grid `json:"grid"`
}

// Limits say what the numbers leave out.
var Limits = []string{
	"The law is that of the stage at rest temperature and at midband: no heating with level, no capacitors or windings, no feedback around it. A tone's frequency only decides which harmonics lie below 20 kHz.",
	"THD+N has no noise in it: nothing but the harmonics that a measurement limited to 20 kHz sees.",
}

// WriteJSON writes the sweep for programs: ratios of amplitudes as numbers, levels
// in dB, all else in SI base units.
func (r *Result) WriteJSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}

// label names a bias.
func label(c *Curve) string {
	if c.Refusal != "" {
		return c.Label
	}
	return format.Setting(c.Rung.Setting, c.Rung.Value)
}
