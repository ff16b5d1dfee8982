package distortion

import (
	"errors"
	"math"
	"math/cmplx"
	"slices"
)

// A mixture describes lines as integer combinations of independent tones:
// harmonics of one, or intermodulation products of two.
type mixture struct {
	tones []float64 // radians a sample
	// orders[k][i] is how many times tone i enters line k. The first len(tones)
	// lines are the tones themselves.
	orders [][]int
}

// omegas returns the frequency of each line, folded to be positive.
func (m *mixture) omegas() []float64 {
	w := make([]float64, len(m.orders))
	for k, order := range m.orders {
		for i, n := range order {
			w[k] += float64(n) * m.tones[i]
		}
		w[k] = math.Abs(w[k])
	}
	return w
}

// solution is a mixture fitted to a record.
type solution struct {
	mixture
	record   *record
	dc       float64
	c        []complex128 // of each line, at the middle of the record
	residual []float64
}

var errNotATone = errors.New("distortion: the tone's frequency does not settle: it is not one steady tone")

// solve fits frequencies and amplitudes together: least squares for the
// amplitudes, then a Gauss-Newton step for the tones' frequencies from the
// residual, on the middle of the record first and then on ever more of it, until
// the frequencies stand still.
func (m *mixture) solve(x []float64) (*solution, error) {
	all := newRecord(x)
	for n := coarseSize; n < len(x); n *= 4 {
		if err := m.settle(all.middle(n), 3); err != nil {
			return nil, err
		}
	}
	if err := m.settle(all, 8); err != nil {
		return nil, err
	}
	s := &solution{
		mixture: *m, record: all,
		c: make([]complex128, len(m.orders)), residual: slices.Clone(x),
	}
	// The second pass, over what the first left, takes out its rounding.
	return s, errors.Join(s.pass(), s.pass())
}

// settle steps the frequencies until they stand still or the rounds are used up.
func (m *mixture) settle(r *record, rounds int) error {
	const still = 1e-10 // radians over the record: -200 dB
	moment := r.secondMoment()
	limit := 2 * math.Pi / float64(len(r.x)) // one line: further is no refinement
	start := slices.Clone(m.tones)
	m.tones = slices.Clone(start)
	for range rounds {
		s := &solution{
			mixture: *m, record: r,
			c: make([]complex128, len(m.orders)), residual: slices.Clone(r.x),
		}
		if err := s.pass(); err != nil {
			return err
		}
		moved := 0.0
		for i := range m.tones {
			step := r.frequencyError(s.residual, m.tones[i], s.c[i], moment)
			if !(math.Abs(m.tones[i]+step-start[i]) < limit) {
				return errNotATone
			}
			m.tones[i] += step
			moved = max(moved, math.Abs(step)*float64(len(r.x)))
		}
		if moved < still {
			return nil
		}
	}
	return nil
}

// pass fits the residual at the present frequencies and takes the fit off it.
func (s *solution) pass() error {
	l, err := newLines(s.record, s.omegas())
	if err != nil {
		return err
	}
	dc, c := l.fit(s.residual)
	l.subtract(s.residual, dc, c)
	s.dc += dc
	for k := range c {
		s.c[k] += c[k]
	}
	return nil
}

// secondMoment returns Σ w(t) t².
func (r *record) secondMoment() float64 {
	sum := 0.0
	for i, w := range r.weights {
		t := r.time(i)
		sum += w * t * t
	}
	return sum
}

// frequencyError returns the step that the residual of a fit asks of the
// frequency of the line c: with x = Re(c e^(j(ω+δ)t)) the residual is
// Re(jδt c e^(jωt)).
func (r *record) frequencyError(residual []float64, omega float64, c complex128, moment float64) float64 {
	turned := make([]float64, len(residual))
	for i, v := range residual {
		turned[i] = v * r.time(i)
	}
	d := r.demodulate(turned, omega)
	return 2 * imag(d*cmplx.Conj(c)) / (square(c) * moment)
}

func square(c complex128) float64 { return real(c)*real(c) + imag(c)*imag(c) }
