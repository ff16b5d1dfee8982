package weighting

import (
	"fmt"
	"math"
	"math/cmplx"
)

// section is one recursive second-order section,
//
//	(b[0] + b[1] z⁻¹ + b[2] z⁻² + …) / (1 + a1 z⁻¹ + a2 z⁻²),
//
// with a numerator of any length.
type section struct {
	b      []float64
	a1, a2 float64
}

// response returns the section's gain at z⁻¹ = w.
func (s section) response(w complex128) complex128 {
	num := complex128(0)
	for i := len(s.b) - 1; i >= 0; i-- {
		num = num*w + complex(s.b[i], 0)
	}
	return num / (1 + w*(complex(s.a1, 0)+w*complex(s.a2, 0)))
}

// stage is a section in transposed direct form II with its memory.
type stage struct {
	section
	state []float64
}

func (s *stage) process(dst, src []float64) {
	last := len(s.state) - 1
	for i, x := range src {
		y := s.state[0] + s.b[0]*x
		for k := range last {
			s.state[k] = s.state[k+1] + s.b[k+1]*x
		}
		s.state[last] = s.b[last+1] * x
		s.state[0] -= s.a1 * y
		s.state[1] -= s.a2 * y
		dst[i] = y
	}
}

// short tells whether the numerator has the usual three coefficients.
func (s *stage) short() bool { return len(s.b) == 3 }

// processPair is process through two short stages, to the bit. Each waits for its own last
// sample, so that the processor works at both at once.
func processPair(dst, src []float64, s, t *stage) {
	b0, b1, b2, a1, a2 := s.b[0], s.b[1], s.b[2], s.a1, s.a2
	d0, d1, d2, c1, c2 := t.b[0], t.b[1], t.b[2], t.a1, t.a2
	s0, s1, t0, t1 := s.state[0], s.state[1], t.state[0], t.state[1]
	dst = dst[:len(src)]
	for i, x := range src {
		y := s0 + b0*x
		s0 = s1 + b1*x - a1*y
		s1 = b2*x - a2*y
		z := t0 + d0*y
		t0 = t1 + d1*y - c1*z
		t1 = d2*y - c2*z
		dst[i] = z
	}
	s.state[0], s.state[1], t.state[0], t.state[1] = s0, s1, t0, t1
}

// Filter is a weighting for one channel at one sample rate. It keeps its state
// between calls and is not safe for concurrent use.
type Filter struct {
	rate   float64
	stages []stage
}

func newFilter(rate float64, sections []section) *Filter {
	f := &Filter{rate: rate}
	for _, s := range sections {
		f.stages = append(f.stages, stage{section: s, state: make([]float64, max(2, len(s.b)-1))})
	}
	return f
}

// Process writes the weighted src to dst. The two have equal length (any
// length) and may be the same slice. It panics if the lengths differ.
func (f *Filter) Process(dst, src []float64) {
	if len(dst) != len(src) {
		panic(fmt.Sprintf("weighting: dst has %d samples, src %d", len(dst), len(src)))
	}
	for left := f.stages; len(left) > 0; src = dst {
		if len(left) > 1 && left[0].short() && left[1].short() {
			processPair(dst, src, &left[0], &left[1])
			left = left[2:]
			continue
		}
		left[0].process(dst, src)
		left = left[1:]
	}
}

// Resume takes over what another filter of the same design and rate has seen. It panics where
// the designs differ in size.
func (f *Filter) Resume(other *Filter) {
	if len(f.stages) != len(other.stages) {
		panic("weighting: Resume: another design")
	}
	for i := range f.stages {
		copy(f.stages[i].state, other.stages[i].state)
	}
}

// Reset forgets the past, as if no sample had been seen.
func (f *Filter) Reset() {
	for i := range f.stages {
		clear(f.stages[i].state)
	}
}

// Response returns the complex gain at frequency hertz, 0 to half the rate.
func (f *Filter) Response(hertz float64) complex128 {
	w := cmplx.Rect(1, -2*math.Pi*hertz/f.rate)
	h := complex128(1)
	for _, s := range f.stages {
		h *= s.response(w)
	}
	return h
}

// Rates of the digital designs, in hertz.
const (
	MinRate = 8000
	MaxRate = 768000
)

func checkRate(rate float64) {
	if !(rate >= MinRate && rate <= MaxRate) {
		panic(fmt.Sprintf("weighting: sample rate %g Hz, legal is %d to %d", rate, MinRate, MaxRate))
	}
}
