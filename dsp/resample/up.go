package resample

import (
	"quietcross/dsp/resample/fir"
)

// block is the number of base-rate samples that pass the cascade at a time; it
// keeps every stage's scratch within the first-level cache.
const block = 128

// Up raises the rate by a power of two. See the package comment for the
// contract of Process.
type Up struct {
	factor int
	stages []interpolator
	even   []float64
}

// NewUp returns an Up for a factor of 1, 2, 4, 8, 16 or 32; it panics on
// anything else.
func NewUp(factor int) *Up {
	n := stagesFor(factor)
	u := &Up{factor: factor, even: make([]float64, block*factor)}
	for j := range n {
		u.stages = append(u.stages, newInterpolator(halfbands[j], block<<j))
	}
	return u
}

// Latency returns the delay in high-rate samples.
func (u *Up) Latency() int {
	sum := 0
	for j := range u.stages {
		sum += (2*len(u.stages[j].taps) - 1) * (u.factor >> (j + 1))
	}
	return sum
}

// Reset returns to the state of endless silence.
func (u *Up) Reset() {
	for j := range u.stages {
		clear(u.stages[j].x)
	}
}

// Process filters src into dst; len(dst) must be the factor times len(src), or
// it panics.
func (u *Up) Process(dst, src []float64) {
	if len(dst) != u.factor*len(src) {
		panic("resample: Up.Process: len(dst) must be the factor times len(src)")
	}
	for len(src) > 0 {
		n := min(block, len(src))
		u.run(dst[:u.factor*n], src[:n])
		dst, src = dst[u.factor*n:], src[n:]
	}
}

func (u *Up) run(dst, src []float64) {
	if len(u.stages) == 0 {
		copy(dst, src)
		return
	}
	copy(u.stages[0].inlet(len(src)), src)
	for j := range u.stages {
		out := dst
		n := len(src) << j
		if j+1 < len(u.stages) {
			out = u.stages[j+1].inlet(2 * n)
		}
		u.stages[j].run(out, u.even[:n])
	}
}

// interpolator doubles the rate. Its x holds 2m-1 past samples, then the new.
type interpolator struct {
	taps []float64 // twice the half-band's, for the zeros between the samples
	x    []float64
}

func newInterpolator(halfband []float64, size int) interpolator {
	taps := make([]float64, len(halfband))
	for k, h := range halfband {
		taps[k] = 2 * h
	}
	return interpolator{taps: taps, x: make([]float64, 2*len(taps)-1+size)}
}

// inlet is where n new samples are to be written before run.
func (p *interpolator) inlet(n int) []float64 {
	past := 2*len(p.taps) - 1
	return p.x[past : past+n]
}

func (p *interpolator) run(dst, between []float64) {
	m, n := len(p.taps), len(between)
	fir.Fold(between, p.x, p.x[m:], p.taps)
	fir.Interleave(dst, between, p.x[m:m+n])
	copy(p.x, p.x[n:n+2*m-1])
}

// MaxFactor is the maximum rate factor of [Up] and [Down].
const MaxFactor = 32

// PassEdge is the end of the band that the cascades leave flat, as a fraction of
// the base rate: 20 kHz at 44.1 kHz. What would fold into it is stopped.
const PassEdge = 0.4535

// stagesFor returns the number of half-band stages for a factor, and panics if
// the factor is no power of two from 1 to [MaxFactor].
func stagesFor(factor int) int {
	for n := range halfbands {
		if factor == 1<<n {
			return n
		}
	}
	if factor == MaxFactor {
		return len(halfbands)
	}
	panic("resample: the factor must be a power of two from 1 to 32")
}
