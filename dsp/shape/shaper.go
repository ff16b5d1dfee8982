package shape

// Shaper applies a law to a stream by the method of the package comment. It
// delays by one sample. Before the first sample and after Reset the input was
// endless silence and the output the law at 0.
type Shaper struct {
	law  *Law
	last float64 // the sample before
	cell int     // where it lies
	mean float64 // of the stretch before it
	tilt float64
	gap  float64 // the sample before last, for a linear law
}

// NewShaper returns a Shaper for the law.
func NewShaper(l *Law) *Shaper {
	s := &Shaper{law: l}
	s.Reset()
	return s
}

// Latency returns the delay in samples, which is 1.
func (s *Shaper) Latency() int { return 1 }

// Reset returns to the state of endless silence.
func (s *Shaper) Reset() { *s = Shaper{law: s.law, cell: s.law.find(0)} }

// Process shapes src into dst. The two must have the same length, or it panics,
// and may be the same slice. Any block length will do; the bits of the output do
// not depend on how the stream is cut.
func (s *Shaper) Process(dst, src []float64) {
	if len(dst) != len(src) {
		panic("shape: Shaper.Process: dst and src differ in length")
	}
	s.swing(dst, src)
	if rest := s.law.rest; rest != 0 {
		for i := range dst {
			dst[i] += rest
		}
	}
}

// swing is Process without the law's value at 0.
func (s *Shaper) swing(dst, src []float64) {
	if s.law.linear {
		s.smooth(dst, src)
		return
	}
	l := s.law
	last, at, mean, tilt := s.last, s.cell, s.mean, s.tilt
	for i, x := range src {
		to := at
		if !l.cells[at].holds(x) {
			to = l.find(x)
		}
		next, lean := l.segment(last, x, at, to)
		dst[i] = 0.5*(mean+next) + (tilt - lean)
		last, at, mean, tilt = x, to, next, lean
	}
	s.last, s.cell, s.mean, s.tilt = last, at, mean, tilt
}

// smooth is swing for a linear law.
func (s *Shaper) smooth(dst, src []float64) {
	g := s.law.gain / 6
	a, b := s.gap, s.last
	for i, x := range src {
		dst[i] = g * (4*b + (a + x))
		a, b = b, x
	}
	s.gap, s.last = a, b
}
