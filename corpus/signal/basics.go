package signal

import "quietcross/dsp/distortion"

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
