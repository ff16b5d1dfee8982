package hearing

import (
	"math"
	"sync"
)

// Sizes of the transform: a complex one of half the frame, a power of 4.
const (
	half      = frameLength / 2
	radixBits = 10 // log2 of half
)

// turns holds e^(-2πi k/frameLength) for k below half, rotations of the fourths
// of one stage, one after another, and the order in which the stages leave the
// frequencies.
type turns struct {
	unit   [half]complex128
	stages [][]rotation
	order  [half]int
}

// rotation holds the first three powers of a stage's root of one.
type rotation struct{ one, two, three complex128 }

var frameTurns = sync.OnceValue(func() *turns {
	t := new(turns)
	for k := range t.unit {
		t.unit[k] = unitRoot(k, frameLength)
		for bit := 0; bit < radixBits; bit += 2 {
			t.order[k] = t.order[k]<<2 | k>>bit&3
		}
	}
	for m := half; m > 4; m /= 4 {
		stage := make([]rotation, m/4)
		for j := range stage {
			stage[j] = rotation{unitRoot(j, m), unitRoot(2*j, m), unitRoot(3*j, m)}
		}
		t.stages = append(t.stages, stage)
	}
	return t
})

// unitRoot returns e^(-2πi k/n).
func unitRoot(k, n int) complex128 {
	sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(n))
	return complex(cos, sin)
}

// transformer is the discrete Fourier transform of a frame. It packs even and odd
// samples into one complex transform by fourths, decimated in frequency, which
// here takes a third of the time of a general plan. Its work space makes it the
// property of one goroutine.
type transformer struct {
	turns *turns
	work  [half]complex128
}

func newTransformer() *transformer { return &transformer{turns: frameTurns()} }

// magnitudes writes scale times the magnitude of each line of frame to dst.
func (t *transformer) magnitudes(dst *[lineCount]float64, frame *[frameLength]float64, scale float64) {
	t.load(frame)
	first := t.work[0]
	dst[0] = scale * math.Abs(real(first)+imag(first))
	dst[half] = scale * math.Abs(real(first)-imag(first))
	for k := 1; k <= half/2; k++ {
		low, high := t.pair(k)
		dst[k] = 0.5 * scale * absolute(low)
		dst[half-k] = 0.5 * scale * absolute(high)
	}
}

// forward writes each line of frame to dst.
func (t *transformer) forward(dst *[lineCount]complex128, frame *[frameLength]float64) {
	t.load(frame)
	first := t.work[0]
	dst[0] = complex(real(first)+imag(first), 0)
	dst[half] = complex(real(first)-imag(first), 0)
	for k := 1; k <= half/2; k++ {
		low, high := t.pair(k)
		dst[k] = complex(real(low)/2, imag(low)/2)
		dst[half-k] = complex(real(high)/2, -imag(high)/2)
	}
}

// inverse writes to frame what has the given lines.
func (t *transformer) inverse(frame *[frameLength]float64, lines *[lineCount]complex128) {
	for k := range t.work {
		mirror := conjugate(lines[half-k])
		even, odd := lines[k]+mirror, (lines[k]-mirror)*conjugate(t.turns.unit[k])
		t.work[k] = complex(real(even)-imag(odd), -imag(even)-real(odd))
	}
	t.run()
	for n, at := range t.turns.order {
		frame[2*n] = real(t.work[at]) / frameLength
		frame[2*n+1] = -imag(t.work[at]) / frameLength
	}
}

// load transforms frame in the packed form that pair reads.
func (t *transformer) load(frame *[frameLength]float64) {
	for n := range t.work {
		t.work[n] = complex(frame[2*n], frame[2*n+1])
	}
	t.run()
}

// pair returns twice line k and twice the conjugate of line half-k of the frame
// loaded, for k from 1 to half/2.
func (t *transformer) pair(k int) (low, high complex128) {
	z, mirror := t.work[t.turns.order[k]], conjugate(t.work[t.turns.order[half-k]])
	even, odd := z+mirror, z-mirror
	odd = t.turns.unit[k] * complex(imag(odd), -real(odd))
	return even + odd, even - odd
}

// run is the complex transform of work, in place; it leaves frequency k at
// turns.order[k].
func (t *transformer) run() {
	for _, stage := range t.turns.stages {
		size := 4 * len(stage)
		for at := 0; at < half; at += size {
			fourths(t.work[at:at+size], stage)
		}
	}
	for at := 0; at < half; at += 4 {
		x := t.work[at : at+4 : at+4]
		x[0], x[1], x[2], x[3] = butterfly(x[0], x[1], x[2], x[3])
	}
}

// fourths runs one stage on one block.
func fourths(x []complex128, stage []rotation) {
	q := len(stage)
	a, b, c, d := x[:q], x[q:2*q], x[2*q:3*q], x[3*q:4*q]
	for j := range stage {
		w := &stage[j]
		p0, p1, p2, p3 := butterfly(a[j], b[j], c[j], d[j])
		a[j], b[j], c[j], d[j] = p0, p1*w.one, p2*w.two, p3*w.three
	}
}

// butterfly is the discrete Fourier transform of four values.
func butterfly(a, b, c, d complex128) (p0, p1, p2, p3 complex128) {
	s0, s1, s2, s3 := a+c, a-c, b+d, b-d
	s3 = complex(imag(s3), -real(s3)) // times -i
	return s0 + s2, s1 + s3, s0 - s2, s1 - s3
}

// absolute is the magnitude of z without care for overflow, which sound pressure
// cannot reach.
func absolute(z complex128) float64 {
	return math.Sqrt(real(z)*real(z) + imag(z)*imag(z))
}

// conjugate mirrors z in the real axis.
func conjugate(z complex128) complex128 { return complex(real(z), -imag(z)) }
