package reports

import (
	"math"

	"quietcross/corpus"
)

// Condition says where a bias stands between none and too much.
type Condition string

// The conditions.
const (
	Unbiased Condition = "unbiased"
	Under    Condition = "under-biased"
	Optimum  Condition = "optimum"
	Over     Condition = "over-biased"
	// Unknown is for a stage without a crossover, or without emitter resistance
	// to define an optimum by.
	Unknown Condition = "unclassified"
)

// near is the ratio of quiescent currents within which a rung counts as the
// optimum: the gain at rest then differs from that at swing by a few parts in
// a thousand of the emitter resistance's share.
const near = 1.1

// condition places a rung. It is the optimum when its manifest says so or its
// current is within 10 % of the one that does. In a ladder without an optimum
// the gain decides, for the optimum is where it is the same at rest and at full
// swing: less gain at rest is too little current, more is too much.
func condition(circuit string, r corpus.Rung, ladder []corpus.Rung) Condition {
	if circuit == "single-transistor" {
		return Unknown // one device carries both half-waves
	}
	if r.Optimum {
		return Optimum
	}
	if r.Setting != "as-built" && r.Value == 0 {
		return Unbiased
	}
	for _, o := range ladder {
		if o.Optimum && o.Quiescent > 0 {
			return compare(r.Quiescent/o.Quiescent, near)
		}
	}
	if r.GainAtSwing <= 0 {
		return Unknown
	}
	return compare(r.GainAtZero/r.GainAtSwing, 1.0005)
}

func compare(ratio, within float64) Condition {
	switch {
	case math.IsNaN(ratio):
		return Unknown
	case ratio < 1/within:
		return Under
	case ratio > within:
		return Over
	default:
		return Optimum
	}
}
