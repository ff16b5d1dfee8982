package audibility

import (
	"cmp"
	"slices"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// Finding is what was found about one case.
type Finding struct {
	Material string   `json:"material"`
	Level    level.DB `json:"level_db"`
	// Heard and Limit are the conditions of the search.
	Heard hearing.Conditions `json:"conditions"`
	Limit float64            `json:"limit"`
	// Duration is the length of the piece, s.
	Duration float64 `json:"duration_s"`
	// Curve holds every current rendered, in ascending order, and Unrendered the gaps in
	// it in which the lattice has currents that were not.
	Curve      []Point   `json:"curve"`
	Unrendered []Stretch `json:"unrendered,omitempty"`
	// Crossings are all the currents at which what is heard crosses the limit, in
	// ascending order.
	Crossings []Crossing `json:"crossings,omitempty"`
	// Threshold is the first crossing above which the difference is no longer
	// predicted audible, nil if there is none.
	Threshold *Threshold `json:"threshold,omitempty"`
	// Rises are the stretches of the curve on which more current makes
	// detection more probable. A stage that is biased beyond its optimum, or
	// whose level changes, can have them.
	Rises []Rise `json:"rises,omitempty"`
	// Correlations set the simple numbers of the renderings against the
	// prediction.
	Correlations []Correlation `json:"correlations,omitempty"`
	// Picture is the excess over the masked threshold of the rendering at
	// [Finding.LastAudible]; nil where there is none.
	Picture *hearing.Picture `json:"picture,omitempty"`
	// Summary says the threshold in words, with its conditions; Beside says where
	// ITU-R BS.1387 differs, "" where it does not.
	Summary string `json:"summary"`
	Beside  string `json:"beside_bs1387,omitempty"`
	// Failures are the currents at which there was no rendering; Error is why
	// there is no curve at all.
	Failures []Failure `json:"failures,omitempty"`
	Error    string    `json:"error,omitempty"`
}

// Crossing is a current at which what is heard crosses the limit.
type Crossing struct {
	// Quiescent is the current, A, and Bias the voltage at the bias point there, V.
	Quiescent float64 `json:"quiescent_a"`
	Bias      float64 `json:"bias_v"`
	// Low and High are the nearest currents rendered on either side, A. Low is 0 and
	// Quiescent is High where the crossing lies between no current at all and the
	// minimum searched.
	Low  float64 `json:"below_a"`
	High float64 `json:"above_a"`
	// Rising tells that the difference is predicted audible above the current,
	// not below it.
	Rising bool `json:"rising"`
}

// Threshold is the crossing above which the difference is no longer predicted audible,
// with its interval.
type Threshold struct {
	Crossing
	Interval Interval `json:"interval"`
}

// Interval is the range of currents in which a threshold is to be expected, 95 %.
type Interval struct {
	// Low is 0 where even no bias at all may not be heard. High is the maximum
	// current searched where Open tells that the interval goes beyond it.
	Low  float64 `json:"low_a"`
	High float64 `json:"high_a"`
	Open bool    `json:"open"`
}

// Audible tells whether the case is predicted audible at a quiescent current within the
// range searched, by its crossings.
func (f *Finding) Audible(quiescent float64) bool {
	audible := len(f.Curve) > 0 && f.Curve[0].Detection > f.Limit
	for _, c := range f.Crossings {
		if quiescent >= c.Quiescent {
			audible = c.Rising
		}
	}
	return audible
}

// place returns where on the curve a current is or would be, and whether it is there.
func (f *Finding) place(quiescent float64) (int, bool) {
	return slices.BinarySearchFunc(f.Curve, quiescent, func(have Point, q float64) int { return cmp.Compare(have.Quiescent, q) })
}

// failed tells whether a current was tried that has no rendering.
func (f *Finding) failed(quiescent float64) bool {
	return slices.ContainsFunc(f.Failures, func(have Failure) bool { return have.Quiescent == quiescent })
}

// LastAudible returns the point of the curve with the maximum current below the
// threshold at which the difference is still predicted audible; false when there
// is no threshold.
func (f *Finding) LastAudible() (Point, bool) {
	if f.Threshold == nil {
		return Point{}, false
	}
	for i := len(f.Curve) - 1; i >= 0; i-- {
		if p := f.Curve[i]; p.Quiescent <= f.Threshold.Low && p.Detection > f.Limit {
			return p, true
		}
	}
	return Point{}, false
}

// show keeps the picture that is shown.
func (f *Finding) show() {
	if p, ok := f.LastAudible(); ok {
		f.Picture = &p.picture
	}
}

// drop lets the pictures of the curve go.
func (f *Finding) drop() {
	for i := range f.Curve {
		f.Curve[i].picture = hearing.Picture{}
	}
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
