package report

import (
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// Options say how a set is measured. Zero is a value like any other: begin with
// [DefaultOptions].
type Options struct {
	// Playback is the level of a full-scale sine at the listener, dB SPL, 20 to
	// 110, for which detection is predicted.
	Playback level.DB
}

// DefaultOptions predict for a full-scale sine of 92 dB SPL.
func DefaultOptions() Options { return Options{Playback: hearing.DefaultSPL} }
