package signal

import (
	"math"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// standards returns the test signals. Ratios are peak to peak, so that a
// material's Peak is the maximum value that its sinusoids can reach together.
func standards() []Material {
	return []Material{
		fullScaleTone("aes17-997", 0),
		fullScaleTone("aes17-997-60db", -60),
		modulation("modulation-60-7000", 60, 7000),
		modulation("modulation-250-8000", 250, 8000),
		difference("difference-19k-20k", 19000, 20000),
		difference("difference-13k-14k", 13000, 14000),
		totalDifference(),
		dynamicIntermodulation(),
		multitone(),
		{
			Name: "silence", Title: "Digital silence",
			Shows:  "noise and hum of the path, with no signal at all",
			Source: "AES17-2015, idle channel",
			Kind:   distortion.Silence, Seconds: 4, Channels: 1, Peak: level.DB(math.Inf(-1)), generate: silent,
		},
	}
}

func fullScaleTone(name string, peak level.DB) Material {
	m := Material{
		Name: name, Title: "997 Hz at full scale",
		Shows:  "harmonics and THD+N at the digital ceiling; leaves no headroom for dither",
		Source: "AES17-2015: 997 Hz, 0 dB FS",
		Kind:   distortion.SingleTone, Seconds: 5, Channels: 1, Peak: peak,
		Tones: []Tone{{Frequency: 997, Level: peak}}, Required: 997, generate: sumTones,
	}
	if peak < 0 {
		m.Title = "997 Hz at -60 dB"
		m.Shows = "dynamic range: distortion and noise beside a small signal, where crossover is worst"
		m.Source = "AES17-2015: dynamic range, 997 Hz, -60 dB FS"
	}
	return m
}

// modulation returns a low and a high tone, 4:1 in amplitude, peak −1 dBFS.
func modulation(name string, low, high float64) Material {
	tones := twoTones(low, high, 4, -1)
	return Material{
		Name: name, Title: "Modulation distortion, 4:1",
		Shows:  "a small high tone carried through the crossover by a large low one: sidebands around the high tone",
		Source: "IEC 60268-3:2018, 14.12: modulation distortion",
		Kind:   distortion.TwoTone, Seconds: 5, Channels: 1, Peak: -1,
		Tones: tones, Required: high, generate: sumTones,
	}
}

// difference returns two high tones of equal level, peak −1 dBFS.
func difference(name string, low, high float64) Material {
	return Material{
		Name: name, Title: "Difference-frequency distortion",
		Shows:  "two tones at the top of the band beating through zero: products at their difference and beside them",
		Source: "IEC 60268-3:2018, 14.12: difference-frequency distortion",
		Kind:   distortion.DifferenceTones, Seconds: 5, Channels: 1, Peak: -1,
		Tones: twoTones(low, high, 1, -1), Required: high, generate: sumTones,
	}
}

func totalDifference() Material {
	m := difference("total-difference-8k-11950", 8000, 11950)
	m.Title = "Total difference-frequency distortion"
	m.Shows = "products of second and third order close together, at 3950 and 4050 Hz, clear of both tones"
	m.Source = "IEC 60268-3:2018, 14.12: total difference-frequency distortion"
	return m
}

// twoTones returns sines at low and high hertz, ratio:1 in amplitude, whose
// amplitudes add up to peak.
func twoTones(low, high, ratio float64, peak level.DB) []Tone {
	return []Tone{
		{Frequency: low, Level: peak + level.FromAmplitude(ratio/(ratio+1))},
		{Frequency: high, Level: peak + level.FromAmplitude(1/(ratio+1))},
	}
}
