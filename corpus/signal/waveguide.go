package signal

import (
	"math"
	"math/cmplx"
)

// waveguide is one string as a loop: a delay line, a low-pass for what bridge
// and air take, all-passes for stiffness, and one for the fraction of a sample
// that the pitch needs (Jaffe and Smith, Computer Music J. 7(2):56, 1983).
type waveguide struct {
	line     []float64
	at       int
	gain     float64
	loss     onePole
	stiff    [stiffSections]allPass
	fraction allPass
}

const stiffSections = 4

// stringSpec is what a waveguide is designed from.
type stringSpec struct {
	hz        float64 // of the first partial without stiffness
	b         float64 // inharmonicity, see partial
	decay     float64 // seconds to −60 dB of the first partial
	highDecay float64 // and at highHz
}

// highHz is where a string's second decay time is stated, and stretched the
// partial at which its stiffness is matched.
const (
	highHz    = 2500
	stretched = 12
)

// newWaveguide designs the loop in the order in which one part's delay depends
// on another's: losses, stiffness, whole samples, fraction.
func newWaveguide(s stringSpec) *waveguide {
	first := turn(partial(1, s.hz, s.b))
	w := &waveguide{}
	w.loss.keep = lossFor(s)
	low := w.loss.response(first)
	w.gain = math.Pow(10, -3/(s.hz*s.decay)) / cmplx.Abs(low)
	a := allPass{c: stiffnessFor(s)}
	for i := range w.stiff {
		w.stiff[i] = a
	}
	rest := 2*math.Pi/first - delay(low, first) - stiffSections*delay(a.response(first), first)
	whole := int(rest - 0.5)
	w.fraction.c = tuning(rest-float64(whole), first)
	w.line = make([]float64, whole)
	return w
}

// step feeds the loop and returns what reaches the bridge.
func (w *waveguide) step(in float64) float64 {
	out := w.line[w.at]
	v := w.fraction.step(w.gain * w.loss.step(out))
	for i := range w.stiff {
		v = w.stiff[i].step(v)
	}
	w.line[w.at] = v + in
	if w.at++; w.at == len(w.line) {
		w.at = 0
	}
	return out
}

// lossFor returns the low-pass that takes the decay from decay to highDecay.
func lossFor(s stringSpec) float64 {
	want := math.Pow(10, -3/s.hz*(1/s.highDecay-1/s.decay))
	return bisect(0, 0.95, func(keep float64) bool {
		f := onePole{keep: keep}
		got := cmplx.Abs(f.response(turn(highHz))) / cmplx.Abs(f.response(turn(s.hz)))
		return got < want
	})
}

// stiffnessFor returns the all-pass that makes the loop shorter at a high
// partial, where a stiff string is faster, by as much as the partial is sharp.
func stiffnessFor(s stringSpec) float64 {
	one, high := turn(partial(1, s.hz, s.b)), turn(partial(stretched, s.hz, s.b))
	want := 2*math.Pi/one - stretched*2*math.Pi/high
	return -bisect(0, 0.98, func(c float64) bool {
		a := allPass{c: -c}
		return stiffSections*(delay(a.response(one), one)-delay(a.response(high), high)) > want
	})
}

// tuning returns the all-pass coefficient for a delay of d samples at the
// angle w.
func tuning(d, w float64) float64 {
	return math.Sin((1-d)*w/2) / math.Sin((1+d)*w/2)
}

// allPass is y = c·x + x₁ − c·y₁.
type allPass struct{ c, state float64 }

func (a *allPass) step(x float64) float64 {
	y := a.c*x + a.state
	a.state = x - a.c*y
	return y
}

// turn returns the angle in radians that hz turns in one sample.
func turn(hz float64) float64 { return 2 * math.Pi * hz / scoreRate }

func (a allPass) response(w float64) complex128 {
	z := cmplx.Rect(1, -w)
	return (complex(a.c, 0) + z) / (1 + complex(a.c, 0)*z)
}

func (f onePole) response(w float64) complex128 {
	return complex(1-f.keep, 0) / (1 - complex(f.keep, 0)*cmplx.Rect(1, -w))
}

// delay returns the phase delay in samples of a response at the angle w.
func delay(response complex128, w float64) float64 { return -cmplx.Phase(response) / w }

// bisect returns the point between lo and hi where over turns true.
func bisect(lo, hi float64, over func(float64) bool) float64 {
	for range 60 {
		if mid := (lo + hi) / 2; over(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return lo
}
