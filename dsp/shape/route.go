package shape

import (
	"quietcross/dsp/resample"
	"quietcross/dsp/resample/fir"
)

const (
	block  = 128  // base-rate samples at a time
	ripple = 1e-7 // of each correction, in the pass band
)

// Source is the part of the way that all laws share: the correction before the
// law and the step up in rate.
//
// Source and Branch keep one contract: blocks may have any length; the bits of the
// output depend neither on how a stream is cut nor on the other laws; nothing is
// allocated after construction; before the first sample and after Reset the
// input was endless silence and each output its law at 0. None may be used by
// two goroutines at once, but the branches of one Source may run side by side on
// its finished output.
type Source struct {
	oversample int
	before     *fir.Symmetric
	up         *resample.Up
	work       []float64
}

// NewSource returns a Source for an oversampling of 1, 2, 4, 8, 16 or 32; it
// panics on anything else.
func NewSource(oversample int) *Source {
	return &Source{
		oversample: oversample,
		before:     fir.NewSymmetric(correction(paths, oversample)),
		up:         resample.NewUp(oversample),
		work:       make([]float64, block),
	}
}

// Process raises src to the high rate; len(high) must be the oversampling times
// len(src), or it panics. The slices must not overlap.
func (s *Source) Process(high, src []float64) {
	if len(high) != s.oversample*len(src) {
		panic("shape: Source.Process: len(high) must be the oversampling times len(src)")
	}
	for len(src) > 0 {
		n := min(block, len(src))
		s.before.Process(s.work[:n], src[:n])
		s.up.Process(high[:n*s.oversample], s.work[:n])
		high, src = high[n*s.oversample:], src[n:]
	}
}

// Latency returns the delay in high-rate samples.
func (s *Source) Latency() int { return s.before.Latency()*s.oversample + s.up.Latency() }

// Reset returns to the state of endless silence.
func (s *Source) Reset() {
	s.before.Reset()
	s.up.Reset()
}

// Descent is the way back to the base rate of a signal that was averaged with a
// B-spline: the step down in rate, and the correction of the average's response. Together with the way up it delays by whole frames.
type Descent struct {
	oversample int
	pad        int
	work       []float64 // pad samples held back, then new
	down       *resample.Down
	after      *fir.Symmetric
}

// NewDescent returns a Descent for an oversampling of 1, 2, 4, 8, 16 or 32, for up to
// the given number of frames at a time; it panics on any other oversampling. Between a
// [resample.Up] and it the signal was delayed by late high-rate samples, and averaged with
// so many boxes a sample wide: two are a triangle.
func NewDescent(oversample, late, boxes, frames int) *Descent {
	d := &Descent{
		oversample: oversample,
		down:       resample.NewDown(oversample),
		after:      fir.NewSymmetric(correction(spline(boxes), oversample)),
	}
	early := resample.NewUp(oversample).Latency() + late + d.down.Latency()
	d.pad = (oversample - early%oversample) % oversample
	d.work = make([]float64, d.pad+frames*oversample)
	return d
}

// Inlet returns where to put the high-rate samples of the next frames.
func (d *Descent) Inlet(frames int) []float64 { return d.work[d.pad : d.pad+frames*d.oversample] }

// Process takes as many frames as dst has from the inlet to the base rate.
func (d *Descent) Process(dst []float64) {
	n := len(dst) * d.oversample
	d.down.Process(dst, d.work[:n])
	copy(d.work, d.work[n:n+d.pad])
	d.after.Process(dst, dst)
}

// Latency returns the delay in high-rate samples.
func (d *Descent) Latency() int {
	return d.pad + d.down.Latency() + d.after.Latency()*d.oversample
}

// Reset returns to the state of endless silence.
func (d *Descent) Reset() {
	clear(d.work)
	d.down.Reset()
	d.after.Reset()
}

// Branch is the part of the way that belongs to one law: the law and the [Descent].
// See [Source] for the contract.
type Branch struct {
	rest    float64
	shaper  *Shaper
	descent *Descent
}

// NewBranch returns a Branch for the law and an oversampling of 1, 2, 4, 8, 16 or
// 32; it panics on any other.
func NewBranch(l *Law, oversample int) *Branch {
	shaper := NewShaper(l)
	return &Branch{rest: l.rest, shaper: shaper, descent: NewDescent(oversample, shaper.Latency(), boxes, block)}
}

// Process takes the output of a Source through the law and back to the base
// rate; len(high) must be the oversampling times len(dst), or it panics. The
// slices must not overlap.
func (b *Branch) Process(dst, high []float64) {
	oversample := b.descent.oversample
	if len(high) != oversample*len(dst) {
		panic("shape: Branch.Process: len(high) must be the oversampling times len(dst)")
	}
	for len(dst) > 0 {
		n := min(block, len(dst))
		b.run(dst[:n], high[:n*oversample])
		dst, high = dst[n:], high[n*oversample:]
	}
}

func (b *Branch) run(dst, high []float64) {
	b.shaper.swing(b.descent.Inlet(len(dst)), high)
	b.descent.Process(dst)
	if b.rest != 0 {
		for i := range dst {
			dst[i] += b.rest
		}
	}
}

// Latency returns the delay in high-rate samples, such that together with that
// of a [Source] it makes a whole number of base-rate samples.
func (b *Branch) Latency() int { return b.shaper.Latency() + b.descent.Latency() }

// Reset returns to the state of endless silence.
func (b *Branch) Reset() {
	b.shaper.Reset()
	b.descent.Reset()
}

// Renew returns to the state of endless silence, with another law.
func (b *Branch) Renew(l *Law) {
	b.rest, b.shaper = l.rest, NewShaper(l)
	b.descent.Reset()
}

// Latency returns the delay, in whole base-rate samples, of the whole oversampled way of
// a channel through any law: a [Source] and a [Branch].
func Latency(oversample int) int {
	return (NewSource(oversample).Latency() + NewBranch(Linear(1), oversample).Latency()) / oversample
}
