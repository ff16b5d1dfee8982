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
	if _, err := m.Frames(rate); err != nil {
		return nil, err
	}
	return m.generate(m, rate, seed), nil
}

// Frames returns how many frames [Material.Generate] gives at a rate, without generating
// them. It refuses what that refuses.
func (m Material) Frames(rate int) (int, error) {
	if m.generate == nil {
		return 0, errors.New("material has no recipe: take it from List, Standards or Lookup")
	}
	if rate < MinRate || rate > MaxRate {
		return 0, fmt.Errorf("%s: rate %d Hz: want %d to %d", m.Name, rate, MinRate, MaxRate)
	}
	if limit := toneLimit * float64(rate); m.Required > limit {
		return 0, fmt.Errorf("%s: rate %d Hz carries tones to %.0f Hz; its tone of %g Hz needs at least %.0f Hz",
			m.Name, rate, limit, m.Required, math.Ceil(m.Required/toneLimit))
	}
	return m.frames(rate), nil
}

// frames returns how many frames the material has at rate.
func (m Material) frames(rate int) int { return int(math.Round(m.Seconds * float64(rate))) }

// pieces returns the music, noise and speech. Their gains are set so that each
// has the same loudness, and one listening level serves all.
func pieces() []Material {
	return []Material{
		piece("struck-string", "Struck strings, dying away", 14, 1, record(-6.2, playStruck),
			"a long decay through the crossover: the note is clean when struck and turns rough as it fades"),
		piece("plucked-string", "Plucked strings, left to ring", 13, 1, record(9.8, playPlucked),
			"sharp onsets over sustained strings: a rough edge between the notes, and on the last ones"),
		piece("soft-wind", "A soft blown melody", 13, 1, record(-10.1, playWind),
			"the hardest case: few partials, quiet and sustained, so that nothing hides the added ones"),
		piece("quiet-chord", "A quiet chord and its room", 12, 2, record(-26.9, playChord),
			"a chord swelling, fading and leaving its reverberation (2.4 s to -60 dB) to fall into silence: "+
				"the tail turns gritty, then stops short"),
		piece("brushed-drum", "Brushes on a drum", 13, 1, record(-4.85, playBrush),
			"noise hides much: how far a dense sound masks what a sustained one lays bare, and how its fade thins out"),
		piece("soft-speech", "Soft speech in nonsense syllables", 9, 1, record(-15.05, playSpeech),
			"vowels, consonants and pauses: soft sounds next to loud ones, and the ends of phrases dropping away"),
	}
}

func piece(name, title string, seconds float64, channels int, play generator, shows string) Material {
	return Material{
		Name: name, Title: title, Shows: shows, Kind: distortion.Programme,
		Seconds: seconds, Channels: channels,
		Peak: piecePeak, Loudness: pieceLoudness, generate: play,
	}
}

// basics returns the tones for listening.
func basics() []Material {
	tone := Material{
		Name: "tone", Title: "A pure tone",
		Shows:  "the plainest case: every added harmonic is heard against one sinusoid of 997 Hz",
		Source: "", Kind: distortion.SingleTone, Seconds: 4, Channels: 1, Peak: -1,
		Tones: []Tone{{Frequency: 997, Level: -1}}, Required: 997, generate: sumTones,
	}
	two := modulation("two-tone", 60, 7000)
	two.Title = "A low and a high tone"
	two.Shows = "the high tone is chopped each time the low one crosses zero, and turns rough"
	two.Source, two.Seconds = "", 4
	steps := ladder(397, -6, 6, 10, 0.75)
	steps.Name, steps.Title = "ladder", "A tone stepping down"
	steps.Shows = "the level at which crossover begins to be heard: ten steps of 6 dB from -6 dBFS, " +
		"silence between them; 397 Hz is prime, so that no two cycles of a second are sampled alike"
	return []Material{tone, two, steps}
}
