package server

import "quietcross/dsp/level"

// Rung is one rendering's conditions.
type Rung struct {
	Quiescent float64  // quiescent current, amperes
	Bias      float64  // bias, volts
	Residual  level.DB // residual relative to the reference
	Gain      level.DB // gain applied to match the level of the reference
	// Quiet is the level of a full-scale sine in dB SPL under which the residual lies
	// below the threshold in quiet; 0 when it is not known.
	Quiet level.DB
}

// Clips provides level-matched, aligned stimuli. Its methods are called from
// several goroutines at once; equal arguments must give equal samples.
type Clips interface {
	// Materials lists the names of the materials.
	Materials() []string
	// Stimulus returns a hash of all that makes a material's clips what they are.
	Stimulus(material string) (string, error)
	// Range returns the searchable quiescent currents of a material in
	// amperes. Between lo and hi the residual falls to one minimum value, the
	// optimum, and rises after it if hi lies beyond.
	Range(material string) (lo, hi float64)
	// Reference returns the ideal stage's output, indexed [channel][frame], full
	// scale 1, and its rate in hertz.
	Reference(material string) (rate int, audio [][]float64, err error)
	// Rendering returns the output at a quiescent current, aligned to the sample
	// with Reference and of equal length and loudness.
	Rendering(material string, quiescent float64) (audio [][]float64, conditions Rung, err error)
}
