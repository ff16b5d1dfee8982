package level

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// The course of loudness over a programme, and its spread: windows that slide by one
// step of 100 ms over what a [Loudness] keeps, without a gate (EBU Tech 3341 calls that
// of three seconds short-term loudness), and the loudness range of EBU Tech 3342, the
// distance between the quiet and the loud end of the short-term loudness once silence
// and background are gated out.

// ShortTermSeconds is the length of the window of short-term loudness (EBU Tech 3341).
const ShortTermSeconds = 3.0

// Sliding returns the loudness in LUFS of every window of the given length that was
// added whole, -Inf for digital silence: element i begins at i tenths of a second. The
// length is rounded to tenths of a second and at least one; there are no elements where
// the programme is shorter.
func (m *Loudness) Sliding(seconds float64) []DB {
	n := max(1, int(math.Round(seconds*stepsPerSecond)))
	if len(m.steps) < n {
		return nil
	}
	course := make([]DB, len(m.steps)-n+1)
	for i := range course {
		power := 0.0
		for _, s := range m.steps[i : i+n] {
			power += s
		}
		course[i] = loudness(power / float64(n))
	}
	return course
}

// rangeGate is the relative gate of the loudness range, and rangeLow and rangeHigh the
// percentiles whose distance it is (EBU Tech 3342).
const (
	rangeGate DB = -20

	rangeLow  = 0.10
	rangeHigh = 0.95
)

// Range returns the loudness range in LU (EBU Tech 3342) of what was added so far, and
// false where no window of three seconds passes the gates.
func (m *Loudness) Range() (DB, bool) {
	course := slices.DeleteFunc(m.Sliding(ShortTermSeconds), func(d DB) bool { return d <= absoluteGate })
	if len(course) == 0 {
		return 0, false
	}
	power := 0.0
	for _, d := range course {
		power += d.Power() / float64(len(course))
	}
	gate := FromPower(power) + rangeGate
	var kept []float64
	for _, d := range course {
		if d > gate {
			kept = append(kept, float64(d))
		}
	}
	slices.Sort(kept)
	quantile := func(p float64) DB { return DB(stat.Quantile(p, stat.Empirical, kept, nil)) }
	return quantile(rangeHigh) - quantile(rangeLow), true
}
