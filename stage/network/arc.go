package network

import (
	"math"
	"slices"
)

// The last way to an operating point follows the curve of solutions that begins where all
// sources are zero and so is every voltage, by pseudo-arclength continuation (H. B.
// Keller; E. L. Allgower and K. Georg, Introduction to Numerical Continuation Methods,
// chapter 4). A loop that latches makes the curve turn back in the share of the sources,
// at a fold, where a walk in that share has nowhere to go. Here the share is an unknown
// like the voltages: from a point of the curve a step goes along its tangent, and Newton's
// method returns to the curve on the plane across the tangent, which the curve crosses at
// a fold as it does anywhere. Where the share first comes to one is the point.
//
// Lengths are measured in unknowns relative to their size, or to 1 V or 1 A where they
// are less. A step that Newton's method does not return from quickly is made a quarter,
// one that it does half as long again.
type arc struct {
	solver   *Solver
	target   []float64 // sources
	share    float64   // of the sources
	tangent  []float64 // of length one: kept unknowns, then the share
	weight   []float64 // by unknown: inverse square of its size
	bordered *matrix   // equations and plane
	step     []float64
}

// The limits of an arc. A path of a circuit with a dozen devices takes some hundred
// steps.
const (
	arcSteps       = 4000
	arcCorrections = 12
	firstArc       = 1e-3
	maximumArc     = 0.3
	minimumArc     = 1e-13
	lostShare      = -2 // where a curve goes on to ever more negative sources
)

// follow goes along the curve of solutions until the sources are whole: toward more of
// them, and where the curve is lost so, the other way, for one may lead round a fold of
// negative sources to where the other does not.
func (s *Solver) follow() bool { return s.followFrom(1) || s.followFrom(-1) }

func (s *Solver) followFrom(direction float64) bool {
	clear(s.x)
	s.resetLoads()
	k := s.sys.kept
	a := &arc{
		solver: s, target: slices.Clone(s.u),
		tangent: make([]float64, k+1), weight: make([]float64, k+1),
		bordered: newMatrix(k+1, k+1), step: make([]float64, k+1),
	}
	defer copy(s.u, a.target)
	a.tangent[k] = direction
	return a.run()
}

func (a *arc) run() bool {
	length := firstArc
	from := slices.Clone(a.tangent) // unknowns and share of the last point
	for range arcSteps {
		a.keep(from)
		if !a.turn() {
			return false
		}
		for !a.advance(from, length) {
			if length /= 4; length < minimumArc {
				return false
			}
		}
		if a.share >= 1 {
			return a.arrive(from)
		}
		if a.share < lostShare {
			return false
		}
		length = min(1.5*length, maximumArc)
	}
	return false
}

// keep takes the point down, and the sizes of its unknowns.
func (a *arc) keep(point []float64) {
	k := a.solver.sys.kept
	copy(point, a.solver.x[:k])
	point[k] = a.share
	for i, x := range point {
		size := max(1, math.Abs(x))
		a.weight[i] = 1 / (size * size)
	}
}

// evaluate puts the equations and their slopes by unknowns and share into the bordered
// matrix, above the plane across the tangent.
func (a *arc) evaluate() (limited bool) {
	s := a.solver
	for i, u := range a.target {
		s.u[i] = a.share * u
	}
	s.fixConstants()
	limited = s.linearise()
	k, n := s.sys.kept, a.bordered.stride
	for i := range k {
		row := s.stamps.j[i*s.stamps.stride:]
		copy(a.bordered.a[i*n:], row[:k])
		slope := s.sys.fromSources(i, a.target)
		for d, source := range s.sys.drive {
			slope += row[k+d] * a.target[source]
		}
		a.bordered.a[i*n+k] = slope
	}
	for i, t := range a.tangent {
		a.bordered.a[k*n+i] = t * a.weight[i]
	}
	return limited
}

// turn finds the tangent at a point of the curve, in the direction of the last.
func (a *arc) turn() bool {
	a.evaluate()
	clear(a.step)
	a.step[len(a.step)-1] = 1
	if a.bordered.solveOnce(a.step) >= 0 {
		return false
	}
	sum := 0.0
	for i, t := range a.step {
		sum += t * t * a.weight[i]
	}
	for i, t := range a.step {
		a.tangent[i] = t / math.Sqrt(sum)
	}
	return sum > 0 && !math.IsInf(sum, 0)
}

// advance steps along the tangent and returns to the curve. It reports whether it did.
func (a *arc) advance(from []float64, length float64) bool {
	s, k := a.solver, a.solver.sys.kept
	for i := range k {
		s.x[i] = from[i] + length*a.tangent[i]
	}
	a.share = from[k] + length*a.tangent[k]
	near := false
	for range arcCorrections {
		s.count++
		limited := a.evaluate()
		copy(a.step, s.stamps.f[:k])
		a.step[k] = 0
		if a.bordered.solveOnce(a.step) >= 0 {
			return false
		}
		worst := 0.0
		for i, d := range a.step {
			worst = max(worst, math.Abs(d)*math.Sqrt(a.weight[i]))
		}
		for i := range k {
			s.x[i] -= a.step[i]
		}
		a.share -= a.step[k]
		if !(worst < 1) {
			return false
		}
		small := !limited && worst < closeVolts
		if small && near {
			return true
		}
		near = small
	}
	return false
}

// arrive solves with whole sources, from between the last two points.
func (a *arc) arrive(from []float64) bool {
	s, k := a.solver, a.solver.sys.kept
	part := (1 - from[k]) / (a.share - from[k])
	for i := range k {
		s.x[i] = from[i] + part*(s.x[i]-from[i])
	}
	copy(s.u, a.target)
	return s.newton(quickIterations)
}
