package server

import (
	"cmp"
	"math"
	"slices"
)

// Place is a point of the ladder in the stage's own quantities, NaN where the
// rungs do not reach.
type Place struct {
	Quiescent, Bias float64 // amperes, volts
}

// Axis translates residuals of one material into currents and biases, by linear
// interpolation between the rungs that were rendered.
type Axis struct {
	rungs []Rung // ascending residual, strictly
}

// newAxis uses the rungs up to the optimum; beyond it a residual would have two
// currents.
func newAxis(rungs []Rung) Axis {
	sorted := slices.SortedFunc(slices.Values(rungs), func(a, b Rung) int { return cmp.Compare(a.Quiescent, b.Quiescent) })
	var a Axis
	for _, r := range slices.Backward(sorted[:optimum(sorted)]) {
		if n := len(a.rungs); n == 0 || r.Residual > a.rungs[n-1].Residual {
			a.rungs = append(a.rungs, r)
		}
	}
	return a
}

// optimum returns one more than the index of the minimum residual, 0 for none.
func optimum(rungs []Rung) int {
	best := 0
	for i, r := range rungs {
		if best == 0 || r.Residual < rungs[best-1].Residual {
			best = i + 1
		}
	}
	return best
}

// At returns the place of a residual in decibels.
func (a Axis) At(residual float64) Place {
	nowhere := Place{math.NaN(), math.NaN()}
	if math.IsNaN(residual) || math.IsInf(residual, 0) || len(a.rungs) == 0 {
		return nowhere
	}
	i, found := slices.BinarySearchFunc(a.rungs, residual, func(r Rung, x float64) int { return cmp.Compare(float64(r.Residual), x) })
	switch {
	case found:
		return Place{a.rungs[i].Quiescent, a.rungs[i].Bias}
	case i == 0 || i == len(a.rungs):
		return nowhere
	}
	lo, hi := a.rungs[i-1], a.rungs[i]
	share := (residual - float64(lo.Residual)) / float64(hi.Residual-lo.Residual)
	return Place{lo.Quiescent + share*(hi.Quiescent-lo.Quiescent), lo.Bias + share*(hi.Bias-lo.Bias)}
}
