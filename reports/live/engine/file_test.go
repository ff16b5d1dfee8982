package engine

import (
	"os"
	"testing"

	"quietcross/dsp/level"
)

// TestRecordFile records the file that the environment names, for who compares what is
// made of it: it is run compiled for WebAssembly by the test of the package above.
func TestRecordFile(t *testing.T) {
	source, made := os.Getenv("QUIETCROSS_SOURCE"), os.Getenv("QUIETCROSS_MADE")
	if source == "" {
		t.Skip("no file is named: the package above does that")
	}
	data, err := os.ReadFile(source)
	must(t, err)
	r, err := Decode(source, data)
	must(t, err)
	const l level.DB = -6
	solution, sheet := solve(t, "pair-12w", "bias", 1.1, l, false)
	out := record(t, r.Audio, solution, sheet.Drive, Controls{Level: l, Monitor: Output})
	must(t, os.WriteFile(made, Encode(out, r.Rate), 0o644))
}
