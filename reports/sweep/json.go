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
	// Memory tells that the circuit has capacitors, windings or a loop: its tones are then
	// those of its periodic state.
	Memory bool  `json:"memory"`
	Grid   *Grid `json:"grid"`
}

// limits say what the numbers leave out.
func (r *Result) limits() []string {
	method := "The circuit has no memory: its figures are those of its law, solved at rest temperature. A tone's frequency only decides which harmonics lie below 20 kHz."
	if r.Memory {
		method = "The circuit has memory: each figure is of its periodic state, with capacitors, windings, loudspeaker and loop in it, at rest temperature. The two tones are 250 Hz and 8 kHz, and 19 and 20 kHz. Incremental gains and Gm are of the midband law."
	}
	return []string{
		method + " No heating with level.",
		"THD+N has no noise in it: nothing but the harmonics that a measurement limited to 20 kHz sees.",
	}
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
