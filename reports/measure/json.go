package measure

import (
	"encoding/json"
	"io"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 1

// Recording is one file and what was found.
type Recording struct {
	File   string  `json:"file"`
	Format string  `json:"format"`
	Report *Report `json:"report,omitempty"`
	// Reference and Comparison are set when the file was held against another.
	Reference  string      `json:"reference,omitempty"`
	Comparison *Comparison `json:"comparison,omitempty"`
}

// document is the JSON of a measurement.
type document struct {
	Schema     int         `json:"schema"`
	Program    string      `json:"program"`
	Version    string      `json:"version"`
	Recordings []Recording `json:"recordings"`
}

// WriteJSON writes the recordings for programs; levels are in dB, all else in SI
// base units, a ratio of amplitudes as a number.
func WriteJSON(w io.Writer, version string, recordings []Recording) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(document{Schema: SchemaVersion, Program: "quietcross", Version: version, Recordings: recordings})
}
