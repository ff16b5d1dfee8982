package server

import (
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"quietcross/dsp/level"
)

// synthetic is a stage of a closed form: the residual falls from -20 dB without
// current to -70 dB at 50 mA and rises again to -60 dB at 60 mA.
type synthetic struct {
	rate, frames int
	rendered     atomic.Int64
}

const optimumCurrent = 0.050

func (s *synthetic) Materials() []string { return []string{"Bowed chord", "Plucked line"} }

func (s *synthetic) Stimulus(material string) (string, error) { return "of " + material, nil }

func (s *synthetic) Range(string) (lo, hi float64) { return 0, 0.060 }

func residualAt(quiescent float64) float64 {
	if quiescent <= optimumCurrent {
		return -20 - 50*math.Pow(quiescent/optimumCurrent, 0.6)
	}
	return -70 + 1000*(quiescent-optimumCurrent)
}

func (s *synthetic) tone(i int, hertz float64) float64 {
	return math.Sin(2 * math.Pi * hertz * float64(i) / float64(s.rate))
}

// references are worked out once for each shape of clips.
var references sync.Map

// referenceKey is what a reference depends on.
type referenceKey struct {
	rate, frames int
	material     string
}

// Reference returns samples that the caller may change.
func (s *synthetic) Reference(material string) (int, [][]float64, error) {
	key := referenceKey{s.rate, s.frames, material}
	known, ok := references.Load(key)
	if !ok {
		known, _ = references.LoadOrStore(key, s.play(material))
	}
	var out [][]float64
	for _, channel := range known.([][]float64) {
		out = append(out, slices.Clone(channel))
	}
	return s.rate, out, nil
}

func (s *synthetic) play(material string) [][]float64 {
	out := make([][]float64, 2)
	pitch := 220.0
	if material == "Plucked line" {
		pitch = 330
	}
	for c := range out {
		out[c] = make([]float64, s.frames)
		for i := range out[c] {
			decay := 0.4 + 0.6*math.Exp(-6*math.Mod(float64(i)/float64(s.rate), 0.5))
			out[c][i] = decay * (0.25*s.tone(i, pitch) + 0.12*s.tone(i, 1.5*pitch+float64(c)))
		}
	}
	return out
}

func (s *synthetic) Rendering(material string, quiescent float64) ([][]float64, Rung, error) {
	s.rendered.Add(1)
	_, out, err := s.Reference(material)
	residual := residualAt(quiescent)
	gain := 0.2 * math.Pow(10, residual/20)
	for i := range s.frames {
		x := gain * s.tone(i, 1980)
		for c := range out {
			out[c][i] += x
		}
	}
	return out, Rung{
		Quiescent: quiescent, Bias: 1.1 + 0.026*math.Log1p(quiescent/0.001), Residual: level.DB(residual), Gain: 0.1,
	}, err
}

// short clips keep the tests quick; a real panel plays several seconds.
func shortClips() *synthetic { return &synthetic{rate: 8000, frames: 2000} }

// longClips has one material of 15 s at 96 kHz, 8.6 MB a clip, far more than
// the buffers of a connection. Its renderings are as cheap as can be.
type longClips struct{ samples [][]float64 }

func newLongClips() longClips {
	ramp := make([]float64, 15*96000)
	for i := range ramp {
		ramp[i] = float64(i%1000) / 4000
	}
	return longClips{[][]float64{ramp, ramp}}
}

func (longClips) Materials() []string             { return []string{"Bowed chord"} }
func (longClips) Stimulus(string) (string, error) { return "long", nil }
func (longClips) Range(string) (lo, hi float64)   { return 0, optimumCurrent }

func (c longClips) Reference(string) (int, [][]float64, error) { return 96000, c.samples, nil }

func (c longClips) Rendering(_ string, quiescent float64) ([][]float64, Rung, error) {
	return c.samples, Rung{Quiescent: quiescent, Residual: level.DB(residualAt(quiescent))}, nil
}

// browserClips last a second at a rate that browsers and devices use.
func browserClips() *synthetic { return &synthetic{rate: 48000, frames: 48000} }
