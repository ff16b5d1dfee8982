package signal

import (
	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// ladder returns a tone that steps down by fall dB each second, sounding for
// sound seconds of it and silent for the rest.
func ladder(hz float64, top, fall level.DB, rungs int, sound float64) Material {
	m := Material{
		Kind: distortion.Ladder, Seconds: float64(rungs), Channels: 1, Peak: top,
		Tones:    []Tone{{Frequency: hz, Level: top}},
		Required: hz, generate: climbDown,
	}
	for i := range rungs {
		m.Steps = append(m.Steps, Step{
			From:  float64(i) + fade,
			To:    float64(i) + sound - fade,
			Level: top - fall*level.DB(i),
		})
	}
	return m
}

// climbDown generates a ladder: one unbroken sinusoid, gated to each step's
// level with raised-cosine edges and exactly zero between the steps.
func climbDown(m Material, rate int, _ uint64) [][]float64 {
	x := make([]float64, m.frames(rate))
	addTone(x, m.Tones[0], rate)
	for i := range x {
		x[i] *= m.gate(float64(i) / float64(rate))
	}
	return repeat(x, m.Channels)
}

// gate returns the gain of a ladder at time t, re its tone's level.
func (m Material) gate(t float64) float64 {
	for _, s := range m.Steps {
		if t > s.From-fade && t < s.To+fade {
			edge := raisedCosine((t-s.From)/fade+1) * raisedCosine((s.To-t)/fade+1)
			return edge * (s.Level - m.Tones[0].Level).Amplitude()
		}
	}
	return 0
}
