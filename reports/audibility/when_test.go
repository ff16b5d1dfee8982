package audibility

import (
	"math"
	"testing"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// course is a comparison of stretches of a second, each at a level in dB SPL,
// that is heard in some of them.
func course(levels []level.DB, heard map[int]bool) hearing.Result {
	const hop = 512.0 / EarRate
	r := hearing.Result{Course: hearing.Course{Step: hop}, Duration: float64(len(levels))}
	for n := 1; float64(n+1)*hop <= float64(len(levels)); n++ {
		m := hearing.Moment{Time: float64(n) * hop, DPrime: 0.1}
		second := int(m.Time)
		m.Reference = levels[second]
		if in := m.Time - float64(second); heard[second] && in > 0.1 && in < 0.9 {
			m.DPrime = 2
		}
		r.Course.Moments, r.DPrime = append(r.Course.Moments, m), max(r.DPrime, m.DPrime)
	}
	return r
}

// What is heard where, for a piece that is loud, quiet, loud and fades.
func TestPassages(t *testing.T) {
	levels := []level.DB{80, 79, 59, 70, 75, 58, 40}
	for _, c := range []struct {
		heard []int
		want  Passage
		first float64
	}{
		{nil, Nowhere, 0},
		{[]int{0}, FirstSecond, 0.1},
		{[]int{0, 2, 6}, FirstSecond, 0.1},
		{[]int{3}, Later, 3.1},
		{[]int{2}, QuietPassages, 2.1},
		{[]int{2, 5}, QuietPassages, 2.1},
		{[]int{5, 6}, FadingTail, 5.1},
		{[]int{6}, FadingTail, 6.1},
	} {
		heard := map[int]bool{}
		for _, second := range c.heard {
			heard[second] = true
		}
		r := course(levels, heard)
		w := Locate(&r, 0.5, 2)
		if w.Passage != c.want || math.Abs(w.First-c.first) > 0.03 {
			t.Errorf("heard in %v: %+v, want %s from %g", c.heard, w, c.want, c.first)
		}
		if part := 0.8 * float64(len(c.heard)) / 7; math.Abs(w.Part-part) > 0.02 {
			t.Errorf("heard in %v: part %g, want %g", c.heard, w.Part, part)
		}
		if w.From < 0 || w.To > 7 || math.Abs(w.To-w.From-2) > 1e-9 || w.First < w.From || w.First > w.To {
			t.Errorf("heard in %v: excerpt %g to %g around %g", c.heard, w.From, w.To, w.First)
		}
	}
}

// An excerpt starts a quarter of its length early, stays within the piece, and is
// the piece where that is shorter.
func TestExcerpt(t *testing.T) {
	for _, c := range []struct{ moment, length, duration, from, to float64 }{
		{5, 4, 20, 4, 8},
		{0.3, 4, 20, 0, 4},
		{19.5, 4, 20, 16, 20},
		{1, 4, 2.5, 0, 2.5},
	} {
		from, to := excerpt(c.moment, c.length, c.duration)
		if from != c.from || to != c.to {
			t.Errorf("%+v: %g to %g", c, from, to)
		}
	}
}
