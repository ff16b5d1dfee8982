package bs1387

import "testing"

// However long, a series stays within its limit, keeps every maximum and its
// times stay in step with its hop.
func TestSeriesIsBounded(t *testing.T) {
	var r recorder
	const frames = 3*seriesLimit + 17
	for n := range frames {
		p := 0.1
		if n == 70000 {
			p = 0.9
		}
		r.add(Moment{Time: hopTime * float64(n+1), Probability: p})
	}
	s := r.series()
	if len(s.Moments) > seriesLimit || len(s.Moments) < seriesLimit/2 {
		t.Errorf("%d moments", len(s.Moments))
	}
	near(t, "hop", s.Hop, 4*hopTime, 1e-15)
	for i, m := range s.Moments {
		near(t, "time", m.Time, hopTime+float64(i)*s.Hop, 1e-6)
		if (m.Probability > 0.5) != (i == 70000/4) {
			t.Errorf("moment %d: probability %g", i, m.Probability)
		}
	}
}
