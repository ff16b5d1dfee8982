package signal

import "math"

// mode is one decaying resonance.
type mode struct {
	hz    float64
	level float64 // amplitude at the start
	decay float64 // seconds to −60 dB
	phase float64 // radians, of a sine
}

// floor is the amplitude, re the loudest mode's, below which ringing stops.
const floor = 1e-6

// ring adds a mode to x from its first sample on: a phasor turned and shortened
// by one complex product a sample. Modes that scoreRate cannot carry are left
// out.
func ring(x []float64, m mode) {
	if m.hz > toneLimit*scoreRate {
		return
	}
	shrink := math.Exp(-math.Log(1000) / (m.decay * scoreRate))
	sin, cos := math.Sincos(2 * math.Pi * m.hz / scoreRate)
	c, s := shrink*cos, shrink*sin
	im, re := math.Sincos(m.phase)
	im, re = m.level*im, m.level*re
	last := min(len(x), frame(m.decay*math.Log10(math.Abs(m.level)/floor)/3))
	for i := range max(0, last) {
		x[i] += im
		re, im = re*c-im*s, im*c+re*s
	}
}

// damp shortens the decay of x from frame off on to decay seconds.
func damp(x []float64, off int, decay float64) {
	fall := math.Log(1000) / (decay * scoreRate)
	for i := off; i < len(x); i++ {
		x[i] *= math.Exp(-fall * float64(i-off) * raisedCosine(float64(i-off)/(0.025*scoreRate)))
	}
}
