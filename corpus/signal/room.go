package signal

import "math"

// room is a small statistical model of a room: a few early reflections, then
// Gaussian noise that decays exponentially (Moorer, Computer Music J. 3(2):13,
// 1979), with a decay time for each octave.
type room struct {
	decay    float64 // seconds to −60 dB, up to 1 kHz
	high     float64 // seconds to −60 dB at 8 kHz
	predelay float64 // seconds to the first reflection
	wet      float64 // energy of the reverberation re the direct sound
}

// roomBands is the number of octaves of a room, centred on 125 Hz to 8 kHz.
const roomBands = 7

// decayTime returns the decay time of the octave with the given index.
func (r room) decayTime(band int) float64 {
	above := max(0, float64(band)-3) / 3 // octaves above 1 kHz, of three
	return r.decay * math.Pow(r.high/r.decay, above)
}

// reverberate returns x as heard in the room by one ear; each ear has its own
// reflections, drawn from d. The direct sound keeps its level and time.
func (r room) reverberate(x []float64, d dice) []float64 {
	wet := convolve(x, r.response(d))
	for i, v := range x {
		wet[i] += v
	}
	return wet
}

// response draws an impulse response without the direct sound, of energy wet.
func (r room) response(d dice) []float64 {
	h := make([]float64, frame(r.predelay+1.5*r.decay))
	r.addTail(h, d)
	r.addEarly(h, d)
	var energy float64
	for _, v := range h {
		energy += v * v
	}
	scale := math.Sqrt(r.wet / energy)
	for i := range h {
		h[i] *= scale
	}
	return h
}

// addTail adds the decaying noise, octave by octave, building up over the time
// in which the echoes of a room grow dense.
func (r room) addTail(h []float64, d dice) {
	const build = 0.02
	start := frame(r.predelay)
	bands := octaves(d.white(len(h) - start))
	for b, band := range bands {
		fall := math.Log(1000) / (r.decayTime(b) * scoreRate)
		for i, v := range band {
			h[start+i] += v * raisedCosine(seconds(i)/build) * math.Exp(-fall*float64(i))
		}
	}
}

// addEarly adds single reflections whose spacing shrinks and whose strength
// falls as those of a rectangular room do, roughly with the distance travelled.
func (r room) addEarly(h []float64, d dice) {
	t := r.predelay
	for gap := 0.011; gap > 0.002; gap *= 0.78 {
		at := frame(t)
		strength := 25 * r.predelay / t
		if d.Uint64()&1 == 1 {
			strength = -strength
		}
		spread := lowPass1(d.around(5500, 1500)) // walls take the highs
		for i := range 40 {
			in := 0.0
			if i == 0 {
				in = strength
			}
			h[at+i] += spread.step(in)
		}
		t += d.around(gap, 0.3*gap)
	}
}
