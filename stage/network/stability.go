package network

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// Growth is the fastest natural motion of a circuit about a solution.
type Growth struct {
	Rate  float64 // 1/s; above 0 it grows, and the circuit is not stable there
	Hertz float64 // frequency at which it swings, 0 when it does not
}

// Growth linearises the circuit at the present solution and returns the natural
// motion that dies away most slowly, or grows. The trapezoidal rule maps a motion
// e^(st) to a factor (1 + sh/2)/(1 - sh/2) a step, exactly inside the unit circle for
// those that die away; the factors are the eigenvalues of the step from memory to
// memory, and are mapped back. A circuit without stores has the rate -Inf.
func (t *Transient) Growth() Growth {
	n := len(t.state)
	if n == 0 {
		return Growth{Rate: math.Inf(-1)}
	}
	s := t.solver
	t.remember()
	s.fixConstants()
	s.linearise()
	if s.jacobian.factor() >= 0 {
		return Growth{Rate: math.Inf(1)}
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
	return fastest(step, t.step)
}

// fastest maps the eigenvalues of a step back to rates and returns the greatest.
func fastest(step *mat.Dense, seconds float64) Growth {
	var eigen mat.Eigen
	if !eigen.Factorize(step, mat.EigenNone) {
		return Growth{Rate: math.Inf(1)}
	}
	out := Growth{Rate: math.Inf(-1)}
	for _, z := range eigen.Values(nil) {
		if cmplx.Abs(z+1) < 1e-12 {
			continue // a motion of no duration
		}
		rate := 2 / complex(seconds, 0) * (z - 1) / (z + 1)
		if real(rate) > out.Rate {
			out = Growth{Rate: real(rate), Hertz: math.Abs(imag(rate)) / (2 * math.Pi)}
		}
	}
	return out
}
