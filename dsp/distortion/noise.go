package distortion

import (
	"math"
	"math/bits"

	"quietcross/dsp/spectrum"
)

// noise is the power density of what a fit left.
type noise struct {
	rate     float64
	spectrum *spectrum.Spectrum
}

// newNoise averages the spectrum of a residual of at least minSamples samples.
func newNoise(residual []float64, rate float64) *noise {
	size := min(1<<(bits.Len(uint(len(residual)))-3), 1<<14)
	a := spectrum.NewAverage(rate, size, spectrum.BlackmanHarris4)
	a.Add(residual)
	s, _ := a.Spectrum() // size is below the number of samples
	return &noise{rate: rate, spectrum: s}
}

// density returns the one-sided power density near hertz, mean square per hertz:
// the mean over a main lobe to each side, and never less than the rounding of the
// arithmetic.
func (n *noise) density(hertz float64) float64 {
	s := n.spectrum
	reach := float64(s.Window.HalfWidth()) * s.LineWidth()
	low, high := max(0, hertz-reach), min(n.rate/2, hertz+reach)
	return s.MeanSquare(low, high) / (high - low)
}

// sigma returns the standard uncertainty of the real or imaginary part of an
// amplitude fitted to r at hertz: the variance is 2σ²Σw²/(Σw)², with σ² the power
// of white noise of the local density.
func (n *noise) sigma(hertz float64, r *record) float64 {
	variance := n.density(hertz) * n.rate / 2
	return math.Sqrt(2 * variance * fitWindow.NoiseBandwidth() / float64(len(r.x)))
}

// frequencySigma returns the standard uncertainty of a tone's frequency in
// radians a sample: the step is (2/A) Σ w t n(t) / Σ w t², n the noise in
// quadrature, whose variance is σ²/2 a sample.
func (n *noise) frequencySigma(h Harmonic, r *record) float64 {
	variance := n.density(h.Frequency) * n.rate / 2
	var moment, squares float64
	for i, w := range r.weights {
		t := r.time(i)
		moment += w * t * t
		squares += w * w * t * t
	}
	return math.Sqrt(2*variance*squares) / (h.Amplitude() * moment)
}
