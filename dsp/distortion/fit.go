package distortion

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"quietcross/dsp/spectrum"
)

// fitWindow weighs the samples of every fit: its side lobes keep hum and other
// tones that the model does not know out of the lines that it does.
const fitWindow = spectrum.BlackmanHarris4

// resync is the number of samples after which a rotating phasor is set anew.
const resync = 256

// A record is a stretch of signal with the weights of its fits. Time runs in
// samples from the middle, so that phase and frequency errors do not mix.
type record struct {
	x       []float64
	weights []float64
	terms   []float64
}

func newRecord(x []float64) *record {
	r := &record{x: x, terms: fitWindow.Terms(), weights: make([]float64, len(x))}
	// Taken half way between the samples of the periodic window, the weights are
	// symmetric: w(t) = Σ a[k] cos(2πkt/N).
	for i := range r.weights {
		c := math.Cos(2 * math.Pi * r.time(i) / float64(len(x)))
		// cos(kθ) by the Chebyshev recurrence.
		before, now := 1.0, c
		sum := r.terms[0]
		for _, a := range r.terms[1:] {
			sum += a * now
			before, now = now, 2*c*now-before
		}
		r.weights[i] = sum
	}
	return r
}

// middle returns the central n samples as a record of their own.
func (r *record) middle(n int) *record {
	if n >= len(r.x) {
		return r
	}
	from := (len(r.x) - n) / 2
	return newRecord(r.x[from : from+n])
}

// time returns the time of sample i from the middle, in samples.
func (r *record) time(i int) float64 { return float64(i) - float64(len(r.x)-1)/2 }

// kernel returns Σ w(t) cos(ωt) in closed form.
func (r *record) kernel(omega float64) float64 {
	n := float64(len(r.x))
	sum := r.terms[0] * dirichlet(omega, n)
	for k, a := range r.terms[1:] {
		shift := 2 * math.Pi * float64(k+1) / n
		sum += a / 2 * (dirichlet(omega+shift, n) + dirichlet(omega-shift, n))
	}
	return sum
}

// dirichlet returns Σ cos(ωt) over n samples centred on 0.
func dirichlet(omega, n float64) float64 {
	half := math.Remainder(omega, 2*math.Pi) / 2
	if math.Abs(half) < 1e-9/n {
		return n
	}
	return math.Sin(n*half) / math.Sin(half)
}

// demodulate returns Σ w(t) x(t) e^(-jωt).
func (r *record) demodulate(x []float64, omega float64) complex128 {
	var re, im float64
	step := cis(-omega)
	for from := 0; from < len(x); from += resync {
		to := min(from+resync, len(x))
		z := cis(-omega * r.time(from))
		zr, zi := real(z), imag(z)
		sr, si := real(step), imag(step)
		for i := from; i < to; i++ {
			v := x[i] * r.weights[i]
			re += v * zr
			im += v * zi
			zr, zi = zr*sr-zi*si, zr*si+zi*sr
		}
	}
	return complex(re, im)
}

func cis(phase float64) complex128 {
	s, c := math.Sincos(phase)
	return complex(c, s)
}

// lines is a set of sinusoids at known frequencies, with DC, ready to be fitted
// to a record: Σ Re(c[k] e^(jω[k]t)) + dc.
type lines struct {
	record *record
	omegas []float64 // radians a sample, in 0..π
	even   mat.Cholesky
	odd    mat.Cholesky
}

// newLines prepares the normal equations. The weights are even in time, so the
// cosines (with DC) and the sines are two systems of their own. It returns an
// error when the record is too short to tell the frequencies apart.
func newLines(r *record, omegas []float64) (*lines, error) {
	l := &lines{record: r, omegas: omegas}
	n := len(omegas)
	even, odd := mat.NewSymDense(n+1, nil), mat.NewSymDense(n, nil)
	even.SetSym(0, 0, r.kernel(0))
	for i, a := range omegas {
		even.SetSym(0, i+1, r.kernel(a))
		for j := i; j < n; j++ {
			difference, sum := r.kernel(a-omegas[j]), r.kernel(a+omegas[j])
			even.SetSym(i+1, j+1, (difference+sum)/2)
			odd.SetSym(i, j, (difference-sum)/2)
		}
	}
	const worst = 1e8
	okEven, okOdd := l.even.Factorize(even), l.odd.Factorize(odd)
	if !okEven || !okOdd || l.even.Cond() > worst || l.odd.Cond() > worst {
		return nil, fmt.Errorf("distortion: %d samples are too few to tell %d frequencies apart", len(r.x), n)
	}
	return l, nil
}

// fit returns the weighted least-squares solution for x, as long as the record.
func (l *lines) fit(x []float64) (dc float64, c []complex128) {
	n := len(l.omegas)
	even, odd := mat.NewVecDense(n+1, nil), mat.NewVecDense(n, nil)
	even.SetVec(0, real(l.record.demodulate(x, 0)))
	for k, omega := range l.omegas {
		d := l.record.demodulate(x, omega)
		even.SetVec(k+1, real(d))
		odd.SetVec(k, -imag(d))
	}
	// Factorize succeeded and the condition was checked: these cannot fail.
	_ = l.even.SolveVecTo(even, even)
	_ = l.odd.SolveVecTo(odd, odd)
	c = make([]complex128, n)
	for k := range c {
		c[k] = complex(even.AtVec(k+1), -odd.AtVec(k))
	}
	return even.AtVec(0), c
}

// subtract takes a solution off x in place.
func (l *lines) subtract(x []float64, dc float64, c []complex128) {
	for i := range x {
		x[i] -= dc
	}
	for k, omega := range l.omegas {
		step := cis(omega)
		sr, si := real(step), imag(step)
		for from := 0; from < len(x); from += resync {
			z := c[k] * cis(omega*l.record.time(from))
			zr, zi := real(z), imag(z)
			for i := from; i < min(from+resync, len(x)); i++ {
				x[i] -= zr
				zr, zi = zr*sr-zi*si, zr*si+zi*sr
			}
		}
	}
}
