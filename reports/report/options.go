package report

import (
	"quietcross/dsp/hearing"
)

// Options say how a set is measured. Zero is a value like any other: begin with
// [DefaultOptions].
type Options struct {
	// Heard is the playback level, the room and the listener that detection is
	// predicted for.
	Heard hearing.Conditions
}

// DefaultOptions predict for [hearing.DefaultConditions].
func DefaultOptions() Options { return Options{Heard: hearing.DefaultConditions()} }
