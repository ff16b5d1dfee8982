package network

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// Growth is a natural motion of a circuit about a solution.
type Growth struct {
	Rate  float64 // 1/s; above 0 it grows, and the circuit is not stable there
	Hertz float64 // frequency at which it swings, 0 when it does not
}

// Motions linearises the circuit at the present solution and returns its natural
// motions e^(st) as rates s in 1/s, with the angular frequency as imaginary part.
// The trapezoidal rule maps a motion to a factor (1 + sh/2)/(1 - sh/2) a step, exactly
// inside the unit circle for those that die away; the factors are the eigenvalues of
// the step from memory to memory, and are mapped back. Motions of no duration are
// left out. It reports false where the circuit has no such step.
func (t *Transient) Motions() ([]complex128, bool) {
	n := len(t.state)
	if n == 0 {
		return nil, true
	}
	s := t.solver
	t.remember()
	s.fixConstants()
	s.linearise()
	if s.jacobian.factor() >= 0 {
		return nil, false
	}
	step := mat.NewDense(n, n, nil)
	for j := range n {
		from := Source(s.assembly.reactances[j].source)
		unit := s.tangentBy(from)
		for i := range n {
			factor := 2 * s.assembly.reactances[i].impedance * t.rows[i].of(s.tangent, unit)
			if i == j {
				factor--
			}
			step.Set(i, j, factor)
		}
	}
	return motions(step, t.step)
}

// motions maps the eigenvalues of a step back to rates.
func motions(step *mat.Dense, seconds float64) ([]complex128, bool) {
	var eigen mat.Eigen
	if !eigen.Factorize(step, mat.EigenNone) {
		return nil, false
	}
	var rates []complex128
	for _, z := range eigen.Values(nil) {
		if cmplx.Abs(z+1) >= 1e-12 {
			rates = append(rates, 2/complex(seconds, 0)*(z-1)/(z+1))
		}
	}
	return rates, true
}

// Fastest returns the motion of the maximum rate, -Inf where there is none.
func Fastest(rates []complex128) Growth {
	out := Growth{Rate: math.Inf(-1)}
	for _, rate := range rates {
		if real(rate) > out.Rate {
			out = Growth{Rate: real(rate), Hertz: math.Abs(imag(rate)) / (2 * math.Pi)}
		}
	}
	return out
}
