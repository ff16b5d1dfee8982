package shape

// Shaper applies a law to a stream by the method of the package comment. It
// delays by two samples. Before the first sample and after Reset the input was
// endless silence and the output the law at 0.
type Shaper struct {
	law  *Law
	past [4]float64 // the last samples, the newest last
	at   int        // the cell of past[2]
	kept float64    // share of the segment that ends at past[2] in its output
}

// NewShaper returns a Shaper for the law.
func NewShaper(l *Law) *Shaper {
	s := &Shaper{law: l}
	s.Reset()
	return s
}

// Latency returns the delay in samples, which is 2.
func (s *Shaper) Latency() int { return 2 }

// Reset returns to the state of endless silence.
func (s *Shaper) Reset() { *s = Shaper{law: s.law, at: s.law.index.find(0)} }

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

// window is how many samples swing takes at a time: they are copied, behind the last three
// before them, so that fours can be loaded and dst may be src.
const window = 256

// tries is how many samples swing takes one by one where the first of four leaves the cell
// again.
const tries = 3

// swing is Process without the law's value at 0.
func (s *Shaper) swing(dst, src []float64) {
	if s.law.linear {
		s.smooth(dst, src)
		return
	}
	var x [3 + window]float64
	copy(x[:], s.past[1:])
	for len(src) > 0 {
		n := copy(x[3:], src)
		s.swingWindow(dst[:n], x[:n+3])
		copy(x[:3], x[n:n+3])
		dst, src = dst[n:], src[n:]
	}
	copy(s.past[1:], x[:3])
}

// swingWindow is swing over the samples from x[3] on.
func (s *Shaper) swingWindow(dst, x []float64) {
	for i := 0; i < len(dst); {
		stayed := stay(dst[i:], x[i:], &s.law.cells[s.at], &s.kept)
		i += stayed
		end := len(dst)
		switch left := end - i; {
		case left < 4 || !hasVectors:
		case stayed == 0:
			end = i + tries
		default:
			end = i + 1
		}
		s.swingEach(dst[i:end], x[i:end+3])
		i = end
	}
}

// swingEach is swingWindow one by one: what the other way agrees with to the bit.
func (s *Shaper) swingEach(dst, x []float64) {
	l, at, kept := s.law, s.at, s.kept
	c := &l.cells[at]
	x0, x1, x2 := x[0], x[1], x[2]
	for i, x3 := range x[3:] {
		chord := x1 + x2
		curve := 0.5 * ((x0 + x3) - chord)
		var mean, tilt float64
		if u := x2 - c.middle; u*u <= c.reach && curve*curve <= c.bow {
			m := 0.5*chord - c.middle
			e := outer * (x2 - x1)
			side := m - 0.05*curve
			f0, f1, f2 := c.value(side-e), c.value(m-0.125*curve), c.value(side+e)
			mean, tilt = (5./36)*(f0+f2)+(8./36)*f1, (outer*5/18)*(f2-f0)
		} else {
			to := l.index.find(x2)
			mean, tilt = l.segment(path{x1, x2, curve}, at, to)
			mean *= 0.5
			at = to
			c = &l.cells[at]
		}
		dst[i] = kept + (mean - tilt)
		kept = mean + tilt
		x0, x1, x2 = x1, x2, x3
	}
	s.kept, s.at = kept, at
}

// smooth is swing for a linear law, where the method comes down to
//
//	y = gain·(x + δ²x/12 - δ⁴x/48), δ² being the second difference
func (s *Shaper) smooth(dst, src []float64) {
	g := s.law.gain / 48
	x0, x1, x2, x3 := s.past[0], s.past[1], s.past[2], s.past[3]
	for i, x4 := range src {
		dst[i] = g * (34*x2 + 8*(x1+x3) - (x0 + x4))
		x0, x1, x2, x3 = x1, x2, x3, x4
	}
	s.past = [4]float64{x0, x1, x2, x3}
}
