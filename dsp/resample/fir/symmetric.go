package fir

import "gonum.org/v1/gonum/floats"

// chunk is the number of samples filtered at a time.
const chunk = 256

// Symmetric is a streaming filter with an odd-length symmetric impulse
// response: linear phase and a delay of a whole number of samples. Blocks may
// have any length, the output bits do not depend on the cut, and the state
// before the first sample is silence.
type Symmetric struct {
	centre float64
	taps   []float64
	x      []float64 // 2·len(taps) past, then new
}

// NewSymmetric takes one half of the response: half[0] is the centre, half[k]
// stands at ±k samples. half must not be empty, or NewSymmetric panics. It is
// copied.
func NewSymmetric(half []float64) *Symmetric {
	if len(half) == 0 {
		panic("fir: NewSymmetric needs at least the centre coefficient")
	}
	m := len(half) - 1
	taps := append([]float64(nil), half[1:]...)
	return &Symmetric{centre: half[0], taps: taps, x: make([]float64, 2*m+chunk)}
}

// Latency returns the delay in samples.
func (f *Symmetric) Latency() int { return len(f.taps) }

// Reset returns to the state of endless silence.
func (f *Symmetric) Reset() { clear(f.x) }

// Process filters src into dst. The two must have the same length, or it
// panics, and may be the same slice.
func (f *Symmetric) Process(dst, src []float64) {
	if len(dst) != len(src) {
		panic("fir: Symmetric.Process: dst and src differ in length")
	}
	for len(src) > 0 {
		n := min(chunk, len(src))
		f.run(dst[:n], src[:n])
		dst, src = dst[n:], src[n:]
	}
}

func (f *Symmetric) run(dst, src []float64) {
	m, n := len(f.taps), len(src)
	copy(f.x[2*m:], src)
	Fold(dst, f.x, f.x[m+1:], f.taps)
	floats.AddScaled(dst, f.centre, f.x[m:m+n])
	copy(f.x, f.x[n:n+2*m])
}
