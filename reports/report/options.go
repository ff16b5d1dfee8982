package report

import (
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// Options say how a set is measured. A field left at zero takes its default.
type Options struct {
	// Playback is the level of a full-scale sine at the listener, dB SPL, 20 to
	// 110, for which detection is predicted; [hearing.DefaultSPL] by default.
	Playback level.DB
}

func (o Options) withDefaults() Options {
	if o.Playback == 0 {
		o.Playback = hearing.DefaultSPL
	}
	return o
}
