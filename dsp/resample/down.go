package resample

import (
	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/resample/fir"
)

// Down lowers the rate by a power of two. See the package comment for the
// contract of Process.
type Down struct {
	factor int
	stages []decimator // the one at the highest rate first
	work   [2][]float64
}

// NewDown returns a Down for a factor of 1, 2, 4, 8, 16 or 32; it panics on
// anything else.
func NewDown(factor int) *Down {
	n := stagesFor(factor)
	d := &Down{factor: factor}
	for j := range n {
		d.stages = append(d.stages, newDecimator(halfbands[n-1-j], block*factor>>(j+1)))
	}
	d.work = [2][]float64{make([]float64, block*factor), make([]float64, block*factor)}
	return d
}

// Latency returns the delay in high-rate samples. A stage of m outer
// coefficients delays by 2m-2 samples of its own higher rate.
func (d *Down) Latency() int {
	sum := 0
	for j := range d.stages {
		sum += (2*len(d.stages[j].taps) - 2) << j
	}
	return sum
}

// Reset returns to the state of endless silence.
func (d *Down) Reset() {
	for j := range d.stages {
		clear(d.stages[j].odd)
		clear(d.stages[j].even)
	}
}

// Process filters src into dst; len(src) must be the factor times len(dst), or
// it panics.
func (d *Down) Process(dst, src []float64) {
	if len(src) != d.factor*len(dst) {
		panic("resample: Down.Process: len(src) must be the factor times len(dst)")
	}
	for len(dst) > 0 {
		n := min(block, len(dst))
		d.run(dst[:n], src[:d.factor*n])
		dst, src = dst[n:], src[d.factor*n:]
	}
}

func (d *Down) run(dst, src []float64) {
	if len(d.stages) == 0 {
		copy(dst, src)
		return
	}
	for j := range d.stages {
		out := d.work[j&1][:len(src)/2]
		if j+1 == len(d.stages) {
			out = dst
		}
		d.stages[j].run(out, src)
		src = out
	}
}

// decimator halves the rate. The samples that meet the outer coefficients and
// those that meet the centre lie apart, each behind its past.
type decimator struct {
	taps []float64
	odd  []float64 // 2m-1 past, then new
	even []float64 // m-1 past, then new
}

func newDecimator(taps []float64, size int) decimator {
	m := len(taps)
	return decimator{
		taps: taps,
		odd:  make([]float64, 2*m-1+size),
		even: make([]float64, m-1+size),
	}
}

func (p *decimator) run(dst, src []float64) {
	m, n := len(p.taps), len(dst)
	fir.Deinterleave(p.even[m-1:m-1+n], p.odd[2*m-1:2*m-1+n], src)
	fir.Fold(dst, p.odd, p.odd[m:], p.taps)
	floats.AddScaled(dst, 0.5, p.even[:n])
	copy(p.odd, p.odd[n:n+2*m-1])
	copy(p.even, p.even[n:n+m-1])
}
