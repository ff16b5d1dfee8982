package statistics

import (
	"errors"
	"math"
	"testing"
)

// Holm's procedure by hand: 0.01·4, 0.02·3, 0.03·2, 0.5·1, never falling.
func TestHolm(t *testing.T) {
	got := Holm([]float64{.5, .01, .03, .02})
	for i, want := range []float64{.5, .04, .06, .06} {
		near(t, "adjusted", got[i], want, 1e-12)
	}
	if got := Holm([]float64{.9, .8}); got[0] != 1 || got[1] != 1 {
		t.Errorf("over one: %v", got)
	}
}

// Without spread the estimate is the closed form (right - guess)/(1 - guess). A beta
// distribution's cells have its mean and variance, mean (1 - mean) times the correlation.
func TestPoolCountsAgainstClosedForms(t *testing.T) {
	s, err := PoolCounts([]Count{{16, 24}, {16, 24}, {16, 24}, {16, 24}}, GuessThree, .95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "share", s.Mean, .5, .006)
	near(t, "p", s.P, Tail(96, 64, GuessThree), 1e-12)
	mean, square := 0.0, 0.0
	for i, m := range newPopulation(.3, .2).mass {
		x := float64(i) / shareGrid
		mean, square = mean+m*x, square+m*x*x
	}
	near(t, "mean", mean, .3, 1e-3)
	near(t, "variance", square-mean*mean, .2*.3*.7, 1e-3)
	if _, err := PoolCounts([]Count{{0, 0}}, GuessThree, .95); err == nil {
		t.Error("nothing was pooled")
	}
}

// A population of listeners comes back: mean share and coverage of its interval, to four
// standard errors of 400 panels of 20 (200 with a narrow spread, 200 with a wide one).
func TestPoolCountsRecoversThePopulation(t *testing.T) {
	rng := seeded(t, 77)
	for _, spread := range []float64{.1, .3} {
		covered, bias := 0, 0.0
		const panels = 200
		for range panels {
			counts := make([]Count, 20)
			for i := range counts {
				share := .4 - spread
				if rng.IntN(2) == 0 { // two kinds of listeners, as unlike a beta as can be
					share = .4 + spread
				}
				counts[i] = Count{binomial(rng, 24, Discriminated(GuessThree, share)), 24}
			}
			s, err := PoolCounts(counts, GuessThree, .95)
			if err != nil {
				t.Fatal(err)
			}
			bias += (s.Mean - .4) / panels
			if s.Interval.Contains(.4) {
				covered++
			}
		}
		t.Logf("spread %.1f: bias %+.4f, covers %d of %d", spread, bias, covered, panels)
		if math.Abs(bias) > .02 || covered < 178 {
			t.Errorf("spread %.1f: bias %+.4f, covers %d of %d", spread, bias, covered, panels)
		}
	}
}

// A layout of two by two by two by hand: cells 1,3 | 5,7 | 2,4 | 10,12. Means 2, 6, 3, 11;
// rows 4 and 7, columns 2.5 and 8.5, all 5.5. Squares: listeners 2·2·2·1.5² = 18, items
// 2·2·2·3² = 72, together 2·4·1² = 8, rounds 8.
func TestTwoWayByHand(t *testing.T) {
	got, err := TwoWay([][][]float64{{{1, 3}, {5, 7}}, {{2, 4}, {10, 12}}})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Effect{{"item", 72, 1, 9, 0}, {"listener", 18, 1, 9, 0}, {"listener by item", 8, 1, 4, 0}} {
		near(t, want.Name, got[i].Squares, want.Squares, 1e-12)
		near(t, want.Name, got[i].F, want.F, 1e-12)
		if got[i].Freedom != want.Freedom {
			t.Errorf("%s: %d degrees of freedom", want.Name, got[i].Freedom)
		}
	}
	// F(1, 4) at 5 % is 7.71 and F(1, 1) is 161.4 (common practice, in every table).
	near(t, "p", against("", 7.709, 1, 4, 4).P, .05, 1e-5)
	near(t, "p", against("", 161.45, 1, 1, 1).P, .05, 1e-5)
	if one, err := TwoWay([][][]float64{{{1}, {5}}, {{2}, {10}}, {{2}, {7}}}); err != nil || len(one) != 3 || !math.IsNaN(one[2].F) {
		t.Errorf("one round: %+v %v", one, err)
	}
	for _, bad := range [][][][]float64{nil, {{{1}}}, {{{1}, {2}}, {{1}}}, {{{1}, {2}}, {{1}, {2, 3}}}} {
		if _, err := TwoWay(bad); !errors.Is(err, ErrUnbalanced) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}
