package signal

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// Legal sampling rates in hertz.
const (
	MinRate = 8000
	MaxRate = 384000
)

// toneLimit is the highest frequency, as a share of the sampling rate, at which
// a sinusoid is generated. It keeps 20 kHz at a rate of 44.1 kHz.
const toneLimit = 0.46

// Tone is one sinusoid of a material.
type Tone struct {
	Frequency float64  // hertz
	Level     level.DB // peak, re digital full scale
	Phase     float64  // radians, of a sine at time 0
}

// Step is a stretch of a ladder over which the level stands still.
type Step struct {
	From, To float64  // seconds, between the fades
	Level    level.DB // peak, re digital full scale
}

// Material is one signal that can be generated. Only [List], [Standards] and
// [Lookup] make one that can; the exported fields describe it.
type Material struct {
	Name     string // kebab-case, unique
	Title    string
	Shows    string // what it is meant to show
	Source   string // the standard that defines it; empty for programme material
	Kind     distortion.Kind
	Seconds  float64
	Channels int
	Peak     level.DB // re digital full scale: no sample exceeds it
	Loudness level.DB // LUFS, of programme material, within 0.5 LU; else 0
	Tones    []Tone   // what a test signal is made of; nil for programme material
	Steps    []Step   // of a ladder
	Required float64  // hertz: the test is void if tones up to here cannot be carried

	generate generator
}

// generator makes the planar samples of m at rate.
type generator func(m Material, rate int, seed uint64) [][]float64

// List returns the built-in listening material in a stable order.
func List() []Material { return append(basics(), pieces()...) }

// Standards returns the test signals of the measurement standards in a stable
// order.
func Standards() []Material { return standards() }

// Lookup returns the material called name, from [List] or [Standards].
// The error for any other name lists the legal ones.
func Lookup(name string) (Material, error) {
	all := append(List(), Standards()...)
	names := make([]string, len(all))
	for i, m := range all {
		if m.Name == name {
			return m, nil
		}
		names[i] = m.Name
	}
	return Material{}, fmt.Errorf("no material is called %q; there are %s", name, strings.Join(names, ", "))
}

// At returns the same material with its peak moved to the given level re full
// scale, −140 to 0 dB, and every stated level moved with it.
func (m Material) At(peak level.DB) (Material, error) {
	if !(peak >= -140 && peak <= 0) {
		return Material{}, fmt.Errorf("peak level %g dBFS: want -140 to 0", float64(peak))
	}
	if m.Kind == distortion.Silence {
		return m, nil
	}
	shift := peak - m.Peak
	m.Peak = peak
	if m.Kind == distortion.Programme {
		m.Loudness += shift
	}
	m.Tones = slices.Clone(m.Tones)
	for i := range m.Tones {
		m.Tones[i].Level += shift
	}
	m.Steps = slices.Clone(m.Steps)
	for i := range m.Steps {
		m.Steps[i].Level += shift
	}
	return m, nil
}

// Generate returns the samples as [channel][frame], full scale 1, at rate
// samples a second (8000 to 384000). Sinusoids above 0.46 of the rate are left
// out, and programme material is band-limited below half the rate. A test
// signal that loses a tone it cannot do without is refused.
func (m Material) Generate(rate int, seed uint64) ([][]float64, error) {
	if m.generate == nil {
		return nil, errors.New("material has no recipe: take it from List, Standards or Lookup")
	}
	if rate < MinRate || rate > MaxRate {
		return nil, fmt.Errorf("%s: rate %d Hz: want %d to %d", m.Name, rate, MinRate, MaxRate)
	}
	if limit := toneLimit * float64(rate); m.Required > limit {
		return nil, fmt.Errorf("%s: rate %d Hz carries tones to %.0f Hz; its tone of %g Hz needs at least %.0f Hz",
			m.Name, rate, limit, m.Required, math.Ceil(m.Required/toneLimit))
	}
	return m.generate(m, rate, seed), nil
}

// frames returns how many frames the material has at rate.
func (m Material) frames(rate int) int { return int(math.Round(m.Seconds * float64(rate))) }
