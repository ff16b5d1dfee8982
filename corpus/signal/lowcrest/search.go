package main

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	tries    = 4
	rounds   = 500
	momentum = 0.7
)

// period is one second of a sum of unit sines, and its bins one hertz apart.
type period struct {
	hz   []int
	fft  *fourier.FFT
	wave []float64
	bins []complex128
}

// newPeriod returns a period of at least fineness samples to each cycle of the
// highest tone.
func newPeriod(hz []int, fineness int) *period {
	n := 1
	for n < fineness*slices.Max(hz) {
		n *= 2
	}
	return &period{hz, fourier.NewFFT(n), make([]float64, n), make([]complex128, n/2+1)}
}

// sum makes the waveform for phases and returns its peak.
func (p *period) sum(phases []float64) float64 {
	clear(p.bins)
	for i, f := range p.hz {
		p.bins[f] = cmplx.Rect(0.5, phases[i]-math.Pi/2)
	}
	p.fft.Sequence(p.wave, p.bins)
	return max(slices.Max(p.wave), -slices.Min(p.wave))
}

// slope writes the direction in which the waveform's mean of |x|^(q+1) grows
// with each phase, scaled to a mean square of 1.
func (p *period) slope(dst, phases []float64, peak, q float64) {
	for i, v := range p.wave {
		p.wave[i] = math.Copysign(math.Pow(math.Abs(v)/peak, q), v)
	}
	p.fft.Coefficients(p.bins, p.wave)
	var square float64
	for i, f := range p.hz {
		dst[i] = imag(p.bins[f] * cmplx.Rect(1, math.Pi/2-phases[i]))
		square += dst[i] * dst[i]
	}
	scale := 1 / math.Sqrt(square/float64(len(dst)))
	for i := range dst {
		dst[i] *= scale
	}
}

// search returns the phases, to three decimals, of the lowest peak found. It
// goes down the slope of the waveform's q-norm while q rises, so that at first
// many crests and at last only the highest are pressed (the idea of Guillaume,
// Schoukens, Pintelon and Kollár, IEEE Trans. Instrum. Meas. 40:982, 1991).
func search(hz []int) []float64 {
	p := newPeriod(hz, 5)
	var best []float64
	lowest := math.Inf(1)
	for try := range tries {
		phases := descend(p, rand.New(rand.NewPCG(1, uint64(try))))
		if peak := p.sum(phases); peak < lowest {
			lowest, best = peak, phases
		}
	}
	return best
}

// descend returns the end of one descent from random phases.
func descend(p *period, random *rand.Rand) []float64 {
	phases := make([]float64, len(p.hz))
	for i := range phases {
		phases[i] = 2 * math.Pi * random.Float64()
	}
	slope, pace := make([]float64, len(phases)), make([]float64, len(phases))
	for round := range rounds {
		done := float64(round) / rounds
		p.slope(slope, phases, p.sum(phases), 6+50*done)
		for i, g := range slope {
			pace[i] = momentum*pace[i] - 0.0225*(1-done)*g
			phases[i] += pace[i]
		}
	}
	for i, v := range phases {
		phases[i] = math.Round(1000*math.Remainder(v, 2*math.Pi)) / 1000
	}
	return phases
}

// maximum returns a bound on the sum of the first k tones, for the k for which
// it is maximum: a low sampling rate carries the first tones only. Between n
// points a second, a sum of tones up to f hertz rises above what it reaches at
// the points by no more than 1/cos(πf/n) (Ehlich and Zeller, Math. Z. 86:41,
// 1964; from memory).
func maximum(hz []int, phases []float64) float64 {
	var peak float64
	for k := 1; k <= len(hz); k++ {
		p := newPeriod(hz[:k], 40)
		between := math.Cos(math.Pi * float64(hz[k-1]) / float64(len(p.wave)))
		peak = max(peak, p.sum(phases[:k])/between)
	}
	return peak
}
