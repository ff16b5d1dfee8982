package shape

import (
	"sync"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/resample/fir"
)

// Shaper applies a law to a stream by the method of the package comment. It
// delays by four samples. Before the first sample and after Reset the input was
// endless silence and the output the law at 0.
type Shaper struct {
	law      *Law
	straight *fir.Symmetric // what the method comes down to on a linear law
	past     [5]float64     // the last samples, the newest last
	at       int            // the cell of past[2]
	parts    parts
}

// NewShaper returns a Shaper for the law.
func NewShaper(l *Law) *Shaper {
	s := &Shaper{law: l}
	if l.linear {
		half := append([]float64(nil), onLine()...)
		floats.Scale(l.gain, half)
		s.straight = fir.NewSymmetric(half)
	}
	s.Reset()
	return s
}

// latency is the delay in samples: of the six samples that make a path two and a half are
// newer than its middle, and one and a half segments lie between that of the newest and the
// middle of four.
const latency = 4

// Latency returns the delay in samples, which is 4.
func (s *Shaper) Latency() int { return latency }

// Reset returns to the state of endless silence.
func (s *Shaper) Reset() {
	*s = Shaper{law: s.law, straight: s.straight, at: s.law.index.find(0)}
	if s.straight != nil {
		s.straight.Reset()
	}
}

// Process shapes src into dst. The two must have the same length, or it panics,
// and may be the same slice. Any block length will do; the bits of the output do
// not depend on how the stream is cut.
func (s *Shaper) Process(dst, src []float64) {
	if len(dst) != len(src) {
		panic("shape: Shaper.Process: dst and src differ in length")
	}
	s.swing(dst, src)
	if rest := s.law.rest; rest != 0 {
		floats.AddConst(rest, dst)
	}
}

// window is how many samples swing takes at a time: they are copied, behind the last five
// before them, so that fours can be loaded and dst may be src.
const window = 256

// tries is how many samples swing takes one by one where the first of four leaves the cell
// again.
const tries = 3

// swing is Process without the law's value at 0.
func (s *Shaper) swing(dst, src []float64) {
	if s.straight != nil {
		s.straight.Process(dst, src)
		return
	}
	var x [len(s.past) + window]float64
	copy(x[:], s.past[:])
	for len(src) > 0 {
		n := copy(x[len(s.past):], src)
		s.segments(x[:n+len(s.past)])
		s.parts.gather(dst[:n])
		copy(s.past[:], x[n:])
		copy(x[:], s.past[:])
		dst, src = dst[n:], src[n:]
	}
}

// segments fills the parts of the segments that end with each sample from x[5] on.
func (s *Shaper) segments(x []float64) {
	n := len(x) - len(s.past)
	for i := 0; i < n; {
		stayed := stay(&s.parts, i, x[i:], &s.law.cells[s.at])
		i += stayed
		end := n
		if n-i >= 4 && hasVectors {
			if s.enters(x[i+2], x[i+3]) {
				continue
			}
			end = i + 1
			if stayed == 0 {
				end = i + tries
			}
		}
		s.each(i, x[i:end+len(s.past)])
		i = end
	}
}

// enters tells whether a path from a to b leaves the cell for another that serves for all of
// it, and goes there.
func (s *Shaper) enters(a, b float64) bool {
	if s.law.cells[s.at].holds(b) {
		return false
	}
	to := s.law.index.find(b)
	if to == s.at || !s.law.cells[to].holds(a) {
		return false
	}
	s.at = to
	return true
}

// each is segments one by one, from the i-th on: what the other way agrees with to the bit.
func (s *Shaper) each(i int, x []float64) {
	l := s.law
	for k := range len(x) - len(s.past) {
		p, sum := between(x[k : k+6])
		s.enters(p.a, p.b)
		c := &l.cells[s.at]
		if c.holds(p.b) && p.curve*p.curve <= c.bow && p.bend*p.bend <= c.bow {
			u0, u1, u2 := p.gauss(0.5*sum - c.middle)
			f0, f1, f2 := c.value(u0), c.value(u1), c.value(u2)
			s.parts.put(i+k, sampledShares(f0+f2, f1, f2-f0))
			continue
		}
		s.at = l.index.find(p.b)
		s.parts.put(i+k, l.segment(p, l.index.find(p.a), s.at).shares())
	}
}

// onLine returns one half, centre first, of the response of the method on the law y = x.
var onLine = sync.OnceValue(func() []float64 {
	var x [2*latency + 6]float64
	x[5] = 1
	var all parts
	for k := range 2*latency + 1 {
		p, sum := between(x[k : k+6])
		f0, f1, f2 := p.gauss(0.5 * sum)
		all.put(k, sampledShares(f0+f2, f1, f2-f0))
	}
	y := make([]float64, 2*latency+1)
	all.gather(y)
	return y[latency:]
})
