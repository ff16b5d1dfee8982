// Package transform is the discrete Fourier transform of real frames whose length
// is a power of two, for the two ear models and for averaged spectra, which spend a good
// part of their time in it. It allocates nothing, and gonum's general plan takes 7 to 9
// times as long for the powers of 512, 1,024 and 2,048 samples with vector instructions,
// and 2 to 4 times without:
//
//	go test -run '^$' -bench Transform ./dsp/transform
//
// Even and odd samples are packed into one complex transform of half the length,
// which runs in place by fourths, decimated in frequency, with one stage of halves
// at the beginning where the length asks for it (stages.go). Tables are shared between
// transforms of one length; the work space of each makes it the property of one goroutine.
package transform

import (
	"fmt"
	"math"
	"math/bits"
	"sync"
)

// turns holds e^(-2πi k/n) for k below half of n, the roots of each stage, and the order
// in which the stages leave the frequencies.
type turns struct {
	unit   []complex128
	halves []float64 // of a first stage of halves; nil for none
	stages []fourths
	order  []int32
}

// fourths is a stage of blocks of four times a quarter, with its roots in groups of four
// neighbours: the real parts of the first power, its imaginary parts, those of the second
// and of the third.
type fourths struct {
	quarter int
	roots   []float64
}

// tables holds the turns of each length that was asked for.
var tables sync.Map

func turnsOf(n int) *turns {
	if t, ok := tables.Load(n); ok {
		return t.(*turns)
	}
	t, _ := tables.LoadOrStore(n, newTurns(n))
	return t.(*turns)
}

func newTurns(n int) *turns {
	half := n / 2
	t := &turns{unit: make([]complex128, half), order: make([]int32, half)}
	m := half
	if bits.TrailingZeros(uint(half))%2 == 1 {
		t.halves = roots(half/2, half, 1)
		m /= 2
	}
	for k := range t.unit {
		t.unit[k] = unitRoot(k, n)
		at := place(k, m)
		if t.halves != nil {
			at = k%2*m + place(k/2, m)
		}
		t.order[k] = int32(ended(at, half))
	}
	for ; m > 4; m /= 4 {
		t.stages = append(t.stages, fourths{m / 4, roots(m/4, m, 3)})
	}
	return t
}

// roots returns so many powers of e^(-2πi j/m), j below count, in groups of four.
func roots(count, m, powers int) []float64 {
	list := make([]float64, 0, 2*powers*count)
	for j := 0; j < count; j += 4 {
		for power := 1; power <= powers; power++ {
			var parts [8]float64
			for k := range 4 {
				w := unitRoot(power*(j+k), m)
				parts[k], parts[4+k] = real(w), imag(w)
			}
			list = append(list, parts[:]...)
		}
	}
	return list
}

// place returns where stages of fourths of a block of m leave frequency k.
func place(k, m int) int {
	if m == 1 {
		return k
	}
	return k%4*(m/4) + place(k/4, m/4)
}

// ended returns where the last stage of a transform of half values leaves what belongs at
// a place: it works on four blocks of four at once and leaves them turned.
func ended(at, half int) int {
	if half < 16 {
		return at
	}
	return at&^15 | at&3<<2 | at>>2&3
}

// unitRoot returns e^(-2πi k/n).
func unitRoot(k, n int) complex128 {
	sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(n))
	return complex(cos, sin)
}

// Real transforms frames of one length.
type Real struct {
	turns  *turns
	half   int
	re, im []float64
}

// New returns a transform of frames of n samples. It panics unless n is a power of
// two and at least 8.
func New(n int) *Real {
	if n < 8 || n&(n-1) != 0 {
		panic(fmt.Sprintf("transform: length %d: must be a power of two from 8 up", n))
	}
	return &Real{turns: turnsOf(n), half: n / 2, re: make([]float64, n/2), im: make([]float64, n/2)}
}

// Magnitudes writes scale times the magnitude of each of the n/2+1 lines of frame
// to dst.
func (t *Real) Magnitudes(dst, frame []float64, scale float64) {
	half := t.half
	dst = dst[:half+1]
	t.load(frame)
	even, odd := t.re[0], t.im[0]
	dst[0], dst[half] = scale*math.Abs(even+odd), scale*math.Abs(even-odd)
	for k := 1; k <= half/2; k++ {
		low, high := t.pair(k)
		dst[k] = 0.5 * scale * absolute(low)
		dst[half-k] = 0.5 * scale * absolute(high)
	}
}

// Powers writes scale times the squared magnitude of each of the n/2+1 lines of
// frame to dst.
func (t *Real) Powers(dst, frame []float64, scale float64) {
	half := t.half
	dst = dst[:half+1]
	t.load(frame)
	even, odd := t.re[0], t.im[0]
	dst[0] = scale * (even + odd) * (even + odd)
	dst[half] = scale * (even - odd) * (even - odd)
	scale /= 4
	for k := 1; k <= half/2; k++ {
		low, high := t.pair(k)
		dst[k] = scale * (real(low)*real(low) + imag(low)*imag(low))
		dst[half-k] = scale * (real(high)*real(high) + imag(high)*imag(high))
	}
}

// Forward writes each of the n/2+1 lines of frame to dst.
func (t *Real) Forward(dst []complex128, frame []float64) {
	half := t.half
	dst = dst[:half+1]
	t.load(frame)
	dst[0] = complex(t.re[0]+t.im[0], 0)
	dst[half] = complex(t.re[0]-t.im[0], 0)
	for k := 1; k <= half/2; k++ {
		low, high := t.pair(k)
		dst[k] = complex(real(low)/2, imag(low)/2)
		dst[half-k] = complex(real(high)/2, -imag(high)/2)
	}
}

// Inverse writes to frame what has the given lines.
func (t *Real) Inverse(frame []float64, lines []complex128) {
	length := float64(2 * t.half)
	for k := range t.re {
		mirror := conjugate(lines[t.half-k])
		even, odd := lines[k]+mirror, (lines[k]-mirror)*conjugate(t.turns.unit[k])
		t.re[k], t.im[k] = real(even)-imag(odd), -imag(even)-real(odd)
	}
	t.run()
	for n, at := range t.turns.order {
		frame[2*n] = t.re[at] / length
		frame[2*n+1] = -t.im[at] / length
	}
}

// load transforms frame in the packed form that pair reads.
func (t *Real) load(frame []float64) {
	frame = frame[:2*len(t.re)]
	im := t.im[:len(t.re)]
	for n := range t.re {
		t.re[n], im[n] = frame[2*n], frame[2*n+1]
	}
	t.run()
}

// pair returns twice line k and twice the conjugate of line half-k of the frame
// loaded, for k from 1 to half/2.
func (t *Real) pair(k int) (low, high complex128) {
	at, opposite := t.turns.order[k], t.turns.order[t.half-k]
	z, mirror := complex(t.re[at], t.im[at]), complex(t.re[opposite], -t.im[opposite])
	even, odd := z+mirror, z-mirror
	odd = t.turns.unit[k] * complex(imag(odd), -real(odd))
	return even + odd, even - odd
}

// run is the complex transform of the work space, in place; it leaves frequency k at
// turns.order[k].
func (t *Real) run() {
	if t.turns.halves != nil {
		runHalves(t.re, t.im, t.turns.halves)
	}
	for i := range t.turns.stages {
		runFourths(t.re, t.im, &t.turns.stages[i])
	}
	runLast(t.re, t.im)
}

// absolute is the magnitude of z without care for overflow, which sound pressure
// cannot reach.
func absolute(z complex128) float64 {
	return math.Sqrt(real(z)*real(z) + imag(z)*imag(z))
}

// conjugate mirrors z in the real axis.
func conjugate(z complex128) complex128 { return complex(real(z), -imag(z)) }
