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

// stage is a section with its memory: where its numerator has the usual three coefficients
// four samples at a time, else in transposed direct form II.
type stage struct {
	section
	four  *fourfold // nil for a long numerator
	state []float64 // of such a one
}

func newStage(s section) stage {
	if len(s.b) == 3 {
		return stage{section: s, four: newFourfold(s)}
	}
	return stage{section: s, state: make([]float64, max(2, len(s.b)-1))}
}

func (s *stage) process(dst, src []float64) {
	if s.four != nil {
		s.four.process(dst, src)
		return
	}
	transposed(dst, src, s.section, s.state)
}

// transposed is a section in transposed direct form II.
func transposed(dst, src []float64, s section, state []float64) {
	last := len(state) - 1
	for i, x := range src {
		y := state[0] + s.b[0]*x
		for k := range last {
			state[k] = state[k+1] + s.b[k+1]*x
		}
		state[last] = s.b[last+1] * x
		state[0] -= s.a1 * y
		state[1] -= s.a2 * y
		dst[i] = y
	}
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
		f.stages = append(f.stages, newStage(s))
	}
	return f
}

// Process writes the weighted src to dst. The two have equal length (any
// length) and may be the same slice. It panics if the lengths differ.
func (f *Filter) Process(dst, src []float64) {
	if len(dst) != len(src) {
		panic(fmt.Sprintf("weighting: dst has %d samples, src %d", len(dst), len(src)))
	}
	for i := range f.stages {
		f.stages[i].process(dst, src)
		src = dst
	}
}

// Resume takes over what another filter of the same design and rate has seen. It panics where
// the designs differ in size.
func (f *Filter) Resume(other *Filter) {
	if len(f.stages) != len(other.stages) {
		panic("weighting: Resume: another design")
	}
	for i := range f.stages {
		if s, from := &f.stages[i], &other.stages[i]; s.four != nil {
			s.four.resume(from.four)
		} else {
			copy(s.state, from.state)
		}
	}
}

// Reset forgets the past, as if no sample had been seen.
func (f *Filter) Reset() {
	for i := range f.stages {
		if s := &f.stages[i]; s.four != nil {
			s.four.reset()
		} else {
			clear(s.state)
		}
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
