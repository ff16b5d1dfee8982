package signal

import "math"

// fade is the length in seconds of the raised-cosine rise and fall at the ends
// of every tone, long enough that neither clicks.
const fade = 0.02

// sumTones generates the material's tones in every channel, faded at the ends.
func sumTones(m Material, rate int, _ uint64) [][]float64 {
	x := make([]float64, m.frames(rate))
	for _, t := range m.Tones {
		addTone(x, t, rate)
	}
	fadeEnds(x, fade, rate)
	return repeat(x, m.Channels)
}

// addTone adds one sinusoid to x unless rate cannot carry it. The phase is
// reduced to one turn before it is scaled, so that its error does not grow.
func addTone(x []float64, t Tone, rate int) {
	if t.Frequency > toneLimit*float64(rate) {
		return
	}
	a, step := t.Level.Amplitude(), t.Frequency/float64(rate)
	for i := range x {
		_, turn := math.Modf(step * float64(i))
		x[i] += a * math.Sin(2*math.Pi*turn+t.Phase)
	}
}

// fadeEnds multiplies the first and last seconds of x by a raised cosine.
func fadeEnds(x []float64, seconds float64, rate int) {
	n := min(int(seconds*float64(rate)), len(x)/2)
	for i := range n {
		g := raisedCosine(float64(i) / float64(n))
		x[i] *= g
		x[len(x)-1-i] *= g
	}
}

// raisedCosine rises smoothly from 0 at u ≤ 0 to 1 at u ≥ 1.
func raisedCosine(u float64) float64 {
	if u <= 0 {
		return 0
	}
	if u >= 1 {
		return 1
	}
	return 0.5 - 0.5*math.Cos(math.Pi*u)
}

// repeat returns channels copies of x, none sharing memory.
func repeat(x []float64, channels int) [][]float64 {
	out := make([][]float64, channels)
	for c := range out {
		out[c] = append([]float64(nil), x...)
	}
	return out
}

// silent generates digital zero.
func silent(m Material, rate int, _ uint64) [][]float64 {
	return repeat(make([]float64, m.frames(rate)), m.Channels)
}
