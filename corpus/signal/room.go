package signal

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

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
// reflections. The direct sound keeps its level and time.
func (r room) reverberate(x []float64, d dice) []float64 {
	wet := convolve(x, r.response(d))
	for i, v := range x {
		wet[i] += v
	}
	return wet
}

// response draws an impulse response without the direct sound, of energy wet.
func (r room) response(d dice) []float64 {
	h := make([]float64, frame(r.predelay+1.2*r.decay))
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

// octaves splits x into roomBands signals that add up to it, the lowest
// and highest taking all that lies beyond. The edges are half cosines an octave
// wide on a logarithmic scale, with no phase shift.
func octaves(x []float64) [roomBands][]float64 {
	n := transformLength(len(x))
	fft := fourier.NewFFT(n)
	whole := fft.Coefficients(nil, fit(x, n))
	part := make([]complex128, len(whole))
	var bands [roomBands][]float64
	for b := range bands {
		for i, v := range whole {
			part[i] = v * complex(bandWeight(b, math.Log2(float64(i)*scoreRate/float64(n)/125))/float64(n), 0)
		}
		bands[b] = fft.Sequence(nil, part)[:len(x)]
	}
	return bands
}

// bandWeight returns the share of band in a component that lies octave octaves
// above the centre of band 0. The shares of one component add up to 1.
func bandWeight(band int, octave float64) float64 {
	octave = min(max(octave, 0), roomBands-1)
	return raisedCosine(1 - math.Abs(octave-float64(band)))
}

// convolve returns the first len(x) samples of x convolved with h, exactly zero
// until x begins.
func convolve(x, h []float64) []float64 {
	n := transformLength(len(x) + len(h))
	fft := fourier.NewFFT(n)
	a := fft.Coefficients(nil, fit(x, n))
	b := fft.Coefficients(nil, fit(h, n))
	for i := range a {
		a[i] *= b[i] / complex(float64(n), 0)
	}
	y := fft.Sequence(nil, a)[:len(x)]
	for i := 0; i < len(x) && x[i] == 0; i++ {
		y[i] = 0
	}
	return y
}

// transformLength returns the smallest power of two, or three times one, that
// is at least n.
func transformLength(n int) int {
	p := 2
	for p < n {
		p *= 2
	}
	if p/4*3 >= n {
		return p / 4 * 3
	}
	return p
}
