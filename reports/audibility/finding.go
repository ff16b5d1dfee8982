package audibility

import "quietcross/dsp/level"

// Finding is what was found about one case.
type Finding struct {
	Material string   `json:"material"`
	Level    level.DB `json:"level_db"`
	// Playback and Limit are the conditions of the search.
	Playback level.DB `json:"playback_spl_db"`
	Limit    float64  `json:"limit"`
	// Duration is the length of the piece, s.
	Duration float64 `json:"duration_s"`
	// Curve holds every current rendered, in ascending order.
	Curve []Point `json:"curve"`
	// Crossings are all the currents at which the probability of detection
	// crosses the limit, in ascending order.
	Crossings []Crossing `json:"crossings,omitempty"`
	// Threshold is the first crossing above which the difference is no longer
	// predicted audible, nil if there is none.
	Threshold *Crossing `json:"threshold,omitempty"`
	// Rises are the stretches of the curve on which more current makes
	// detection more probable. A stage that is biased beyond its optimum, or
	// whose level changes, can have them.
	Rises []Rise `json:"rises,omitempty"`
	// Correlations set the simple numbers of the renderings against the
	// prediction.
	Correlations []Correlation `json:"correlations,omitempty"`
	// Summary says the threshold in words, with its conditions.
	Summary string `json:"summary"`
	// Failures are the currents at which there was no rendering; Error is why
	// there is no curve at all.
	Failures []Failure `json:"failures,omitempty"`
	Error    string    `json:"error,omitempty"`
}

// Crossing is a current at which the probability of detection crosses the limit.
type Crossing struct {
	// Low and High are the nearest currents on either side, A. Low is 0 where
	// the crossing lies between no current at all and the minimum searched.
	Low  float64 `json:"low_a"`
	High float64 `json:"high_a"`
	// Quiescent is the best estimate, A: the geometric mean of the two, or High
	// where Low is 0. Bias is the mean of the voltages at the two, V.
	Quiescent float64 `json:"quiescent_a"`
	Bias      float64 `json:"bias_v"`
	// Rising tells that the difference is predicted audible above the current,
	// not below it.
	Rising bool `json:"rising"`
}

// minimumRise is the growth of probability that counts as a rise.
const minimumRise = 0.05

// Rise is a stretch of the curve on which detection becomes more probable.
type Rise struct {
	// From and To are quiescent currents, A; By is the growth of probability.
	From float64 `json:"from_a"`
	To   float64 `json:"to_a"`
	By   float64 `json:"by"`
}

// rises finds the stretches of a curve on which probability grows.
func rises(curve []Point) []Rise {
	var list []Rise
	for i := 0; i+1 < len(curve); {
		top := i
		for top+1 < len(curve) && curve[top+1].Detection > curve[top].Detection {
			top++
		}
		if by := curve[top].Detection - curve[i].Detection; by > minimumRise {
			list = append(list, Rise{curve[i].Quiescent, curve[top].Quiescent, by})
		}
		i = max(top, i+1)
	}
	return list
}
