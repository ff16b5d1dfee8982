package report

import "quietcross/corpus/bias"

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
// optimum.
const near = 1.1

// condition places a rung by its resting current against the optimum one, A, of
// its stage. Where theory gives none, 0, the gain decides: less of it at rest
// than at full swing is too little current, more is too much.
func condition(circuit string, r bias.Rung, optimum float64) Condition {
	switch {
	case circuit == "single-transistor":
		return Unknown // one device carries both half-waves
	case r.Optimum:
		return Optimum
	case r.Setting != "as-built" && r.Value == 0:
		return Unbiased
	case optimum > 0:
		return compare(r.Quiescent/optimum, near)
	default:
		return compare(r.GainAtZero/r.GainAtSwing, 1.0005)
	}
}

func compare(ratio, within float64) Condition {
	switch {
	case !(ratio >= 0):
		return Unknown
	case ratio < 1/within:
		return Under
	case ratio > within:
		return Over
	default:
		return Optimum
	}
}
