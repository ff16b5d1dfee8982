package signal

import "math"

// scoreRate is the rate in hertz at which programme material is performed.
const scoreRate = 48000

// The converter's design: flat to 0.45 of the lower rate, 120 dB down from 0.5.
const (
	convertPass  = 0.45
	convertStop  = 0.50
	convertDepth = 120.0 // dB
)

// convert returns x, sampled at scoreRate, as frames samples at rate. Sample n
// of the result stands at the same time n/rate as it would in x, without delay;
// before and after x is silence.
//
// It is interpolation by a sinc under a Kaiser window (Kaiser's design formulas
// of 1974). The kernel depends on the fraction of a sample at which a result
// falls, and the fractions repeat after rate/gcd(rate, scoreRate) results, so
// each kernel is computed once and all results that share it are made in turn.
func convert(x []float64, rate, frames int) []float64 {
	if rate == scoreRate {
		return fit(x, frames)
	}
	k := newKernel(min(1, float64(rate)/scoreRate))
	g := gcd(rate, scoreRate)
	phases, advance := rate/g, scoreRate/g
	y := make([]float64, frames)
	for p := range min(phases, frames) {
		at, rest := p*scoreRate/rate, p*scoreRate%rate
		k.set(float64(rest) / float64(rate))
		for n := p; n < frames; n += phases {
			y[n] = k.apply(x, at)
			at += advance
		}
	}
	return y
}

// kernel interpolates between samples at a fixed fraction of their spacing.
type kernel struct {
	cutoff float64 // cycles a sample, twice the half-power frequency
	half   int     // taps on each side
	beta   float64
	taps   []float64
}

// newKernel returns a kernel for a lower rate of ratio times the input's.
func newKernel(ratio float64) *kernel {
	width := (convertDepth - 7.95) / (14.36 * (convertStop - convertPass) * ratio)
	half := int(math.Ceil(width / 2))
	return &kernel{
		cutoff: (convertPass + convertStop) * ratio,
		half:   half,
		beta:   0.1102 * (convertDepth - 8.7),
		taps:   make([]float64, 2*half),
	}
}

// set computes the taps for the point fraction (0 ≤ fraction < 1) past a sample.
func (k *kernel) set(fraction float64) {
	whole := besselI0(k.beta)
	for i := range k.taps {
		t := float64(i-k.half+1) - fraction
		u := t / float64(k.half)
		window := besselI0(k.beta*math.Sqrt(max(0, 1-u*u))) / whole
		k.taps[i] = k.cutoff * sinc(k.cutoff*t) * window
	}
}

// apply evaluates the kernel for the sample at index at of x.
func (k *kernel) apply(x []float64, at int) float64 {
	first := at - k.half + 1
	lo, hi := max(0, -first), min(len(k.taps), len(x)-first)
	if lo >= hi {
		return 0
	}
	var sum float64
	for i, v := range x[first+lo : first+hi] {
		sum += k.taps[lo+i] * v
	}
	return sum
}

// sinc returns sin(πt)/(πt).
func sinc(t float64) float64 {
	if t == 0 {
		return 1
	}
	return math.Sin(math.Pi*t) / (math.Pi * t)
}

// besselI0 returns the modified Bessel function of order 0 by its series.
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= x * x / (4 * k * k)
		sum += term
	}
	return sum
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// fit returns x cut or filled with zeros to frames samples.
func fit(x []float64, frames int) []float64 {
	y := make([]float64, frames)
	copy(y, x)
	return y
}
