package audibility

import (
	"math"
	"testing"
)

// The sparse search finds what the whole lattice finds, wherever on it the step lies, with
// under half of the renderings.
func TestSparseFindsTheSame(t *testing.T) {
	for i := range 9 {
		step := 2e-4 * math.Pow(10, float64(i)*0.21)
		c := faulty(func(q float64) bool { return q < step })
		whole := examined(t, c, decades)
		sparse, err := ExamineSparsely(t.Context(), c, decades)
		if err != nil || sparse.Threshold == nil {
			t.Fatalf("step at %g A: %v, %+v", step, err, sparse.Crossings)
		}
		if sparse.Threshold.Crossing != whole.Threshold.Crossing {
			t.Errorf("step at %g A: %+v, the whole lattice finds %+v", step, sparse.Threshold.Crossing, whole.Threshold.Crossing)
		}
		if 2*len(sparse.Curve) > len(whole.Curve) {
			t.Errorf("step at %g A: %d renderings, the whole lattice takes %d", step, len(sparse.Curve), len(whole.Curve))
		}
		for j := 1; j < len(sparse.Curve); j++ {
			if sparse.Curve[j].Quiescent <= sparse.Curve[j-1].Quiescent {
				t.Fatalf("curve out of order at %d", j)
			}
		}
	}
}

// Cases that are clean everywhere, or nowhere, have neither crossing nor threshold; one
// that is heard again above has a rising crossing too.
func TestSparseWithoutThreshold(t *testing.T) {
	for _, c := range []struct {
		bad       func(float64) bool
		crossings int
		threshold bool
	}{
		{func(float64) bool { return false }, 0, false},
		{func(float64) bool { return true }, 0, false},
		{func(q float64) bool { return q < 1e-3 || q > 0.1 }, 2, true},
		{func(q float64) bool { return q > 0.1 }, 1, false},
	} {
		f, err := ExamineSparsely(t.Context(), faulty(c.bad), decades)
		if err != nil || len(f.Crossings) != c.crossings || (f.Threshold != nil) != c.threshold {
			t.Errorf("%v, crossings %+v, threshold %+v, want %d and %v", err, f.Crossings, f.Threshold, c.crossings, c.threshold)
		}
	}
}
