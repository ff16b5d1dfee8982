package signal

import (
	"math"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

//go:generate go run ./lowcrest phases.go

// The multitone: 31 sinusoids of equal level, 20 Hz to 20 kHz by equal ratios,
// each rounded to an odd whole number of hertz. One second of it is therefore
// coherent at every whole rate, and products of even order fall between the
// tones.
const (
	multitoneCount = 31
	multitoneLow   = 20
	multitoneHigh  = 20000
)

// multitoneHz returns the frequency of the tone with the given index.
func multitoneHz(i int) float64 {
	f := multitoneLow * math.Pow(multitoneHigh/multitoneLow, float64(i)/(multitoneCount-1))
	return 2*math.Floor(f/2) + 1
}

func multitone() Material {
	const peak = level.DB(-1)
	each := peak - level.FromAmplitude(multitonePeak)
	tones := make([]Tone, multitoneCount)
	for i := range tones {
		tones[i] = Tone{multitoneHz(i), each, multitonePhases[i]}
	}
	return Material{
		Name: "multitone-31", Title: "31 tones, 20 Hz to 20 kHz",
		Shows: "distortion and noise in the gaps of a signal as dense as music: tones on odd hertz, " +
			"so that products of even order land between them; repeats every second",
		Source: "common practice: third-octave spacing, low-crest phases",
		Kind:   distortion.Multitone, Seconds: 5, Channels: 1, Peak: peak,
		Tones: tones, generate: sumTones,
	}
}
