package network

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// A circuit linearised at a solution has natural motions e^(st). Their rates are the
// eigenvalues of one step of the trapezoidal rule, mapped back. They tell whether the
// circuit is stable there, and whether the rule may be corrected for its own error
// without a motion that dies away growing by it.

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
	n := len(t.stores)
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
	step, rows := mat.NewDense(n, n, nil), readings(s)
	for j := range n {
		from := Source(s.assembly.reactances[j].source)
		unit := s.tangentBy(from)
		for i := range n {
			factor := 2 * s.assembly.reactances[i].impedance * rows[i].of(s.tangent, unit)
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

// The trapezoidal rule is wrong over a step h by h^3/12 times the third derivative of
// what a store holds, which its past tells by third differences, and which is wanted for
// the middle of the coming step. The newest third difference is two steps older than that;
// one and a half times it less half of the one two steps before is one step older, and
// answers to what changes sides from step to step with no more than the newest alone. (Of
// the newest two, twice one less the other is as old, but three times as much for what
// changes sides: this then rings on for ever. Four, that leave nothing of third order, make
// motions on the real axis grow.) What does ring of a slow store falls to 0.63 in a step.
var bend = [remembered]float64{-1.5 / 12, 4.5 / 12, -4.0 / 12, 0, 1.5 / 12, -0.5 / 12}

// Sharpen has the trapezoidal rule corrected for its own error of second order from
// now on, as far as the past of each store tells it. Motions are those of the circuit
// at the points of its swing; where one of them that dies away would grow under the
// corrected rule, as one that swings about four steps a cycle without losses does, it
// changes nothing and reports false.
//
// The corrected rule keeps energy to fourth order only; Rule tells what it adds.
func (t *Transient) Sharpen(motions []complex128) bool {
	for _, rate := range motions {
		for level, h := 0, t.step; level < sharpLevels; level++ {
			if !diesAway(rate * complex(h, 0)) {
				return false
			}
			h /= splitInto
		}
	}
	t.sharp = true
	return true
}

// sharpLevels is how many levels of parts a motion is looked at in; at lower ones it is
// slow against the step, and the correction next to nothing.
const sharpLevels = 4

// marginal is by how much a motion may seem to grow a step, for rounding.
const marginal = 1e-9

// diesAway reports whether a motion of z a step dies away under the corrected rule: the
// roots of
//
//	(1 - z/2) r^5 - (1 + z/2) r^4 - (bend, from r^4 down)
//
// lie inside the unit circle (I. Schur and A. Cohn, by reduction of the degree).
func diesAway(z complex128) bool {
	p := make([]complex128, remembered+1)
	p[0], p[1] = 1-z/2, -(1 + z/2)
	for i, b := range bend {
		p[i+1] -= complex(b, 0)
	}
	scale := 1.0
	for i := range p { // the circle a little larger
		p[i] *= complex(scale, 0)
		scale /= 1 + marginal
	}
	for len(p) > 1 {
		n := len(p) - 1
		first, last := p[0], p[n]
		if cmplx.Abs(last) >= cmplx.Abs(first) {
			return false
		}
		next := make([]complex128, n)
		for i := range next {
			next[i] = cmplx.Conj(first)*p[i] - last*cmplx.Conj(p[n-i])
		}
		p = next
	}
	return true
}
