package statistics

import (
	"math"
	"slices"
	"testing"
)

func track(r Rule, answers string) *Staircase {
	s := NewStaircase(r)
	for _, a := range answers {
		s.Answer(a == 'C')
	}
	return s
}

// Levitt, Transformed up-down methods in psychoacoustics, JASA 49:467, 1971,
// Figs. 4 and 5: the worked tracks with their reversals and midpoints of runs.
func TestLevittFigures(t *testing.T) {
	fig4 := track(Rule{Down: 1, Step: 1}, "CCIIIICCIIICCCCCIIICCIII")
	want := []Reversal{{3, -2}, {7, 2}, {9, 0}, {12, 3}, {17, -2}, {20, 1}, {22, -1}}
	if !slices.Equal(fig4.Reversals(), want) {
		t.Errorf("Fig. 4 reversals: %v", fig4.Reversals())
	}
	mids := fig4.Midpoints()
	if got := []float64{mids[0], mids[2], mids[4]}; !slices.Equal(got, []float64{0, 1.5, -.5}) {
		t.Errorf("Fig. 4 midpoints of runs 2, 4, 6: %v", got)
	}
	if got, ok := fig4.Estimate(0); !ok || math.Abs(got-1./3) > 1e-12 {
		t.Errorf("Fig. 4 estimate %g", got)
	}
	fig5 := track(Rule{Down: 2, Step: 1}, "CCCCICIICICCCCCIIICCCCCC")
	want = []Reversal{{5, -2}, {12, 2}, {16, 0}, {20, 3}}
	if !slices.Equal(fig5.Reversals(), want) {
		t.Errorf("Fig. 5 reversals: %v", fig5.Reversals())
	}
	if got := fig5.Midpoints(); !slices.Equal(got, []float64{0, 1, 1.5}) {
		t.Errorf("Fig. 5 midpoints: %v", got)
	}
}

// Levitt's Table I: the proportions on which the rules converge.
func TestLevittTargets(t *testing.T) {
	for i, want := range []float64{.70711, .79370, .84090} {
		near(t, "target", Rule{Down: i + 2}.Target(), want, 5e-6)
	}
}

// A thousand simulated listeners of known threshold and slope with 2 % lapses:
// the proportion right at the mean estimate is Levitt's target within 1 %. The
// step of 1 dB on a spread of 1.5 dB is the panel's; much smaller steps have not
// come down from their start after 26 reversals, larger ones are not small
// enough for Levitt's argument.
func TestStaircasesConverge(t *testing.T) {
	listener := Curve{Location: -52, Scale: 1.5, Guess: GuessThree, Lapse: .02}
	for down := 2; down <= 4; down++ {
		rng := seeded(t, uint64(20+down))
		sum := 0.0
		for range 1000 {
			s := NewStaircase(Rule{Down: down, Start: -44, Step: 1, Coarse: 2})
			for len(s.Reversals()) < 26 {
				s.Answer(rng.Float64() < listener.At(s.Level()))
			}
			x, ok := s.Estimate(6)
			if !ok {
				t.Fatal("no estimate")
			}
			sum += x
		}
		got, want := listener.At(sum/1000), Rule{Down: down}.Target()
		t.Logf("%d-down: proportion %.5f, target %.5f", down, got, want)
		near(t, "proportion at the mean estimate", got, want, .01)
	}
}

func TestStaircaseStopsAtItsBounds(t *testing.T) {
	s := NewStaircase(Rule{Down: 1, Start: 1, Step: 1, Lo: 0, Hi: 2})
	for range 4 {
		s.Answer(true)
	}
	if s.Level() != 0 || s.AtBound() != 3 {
		t.Errorf("level %g after %d cut steps", s.Level(), s.AtBound())
	}
	if _, ok := s.Estimate(0); ok {
		t.Error("an estimate without a run")
	}
	if s.Trials() != 4 {
		t.Errorf("%d trials", s.Trials())
	}
}

// The simulated distribution against the exact one, which a track of a single
// down rule that never ends on its reversals has: then the count is binomial.
func TestGuessedTracksAgainstBinomial(t *testing.T) {
	g := GuessTracks(seeded(t, 4), Rule{Down: 1, Step: 1}, GuessThree, 1000, 30, 20000)
	for right := 6; right <= 16; right++ {
		c := Count{right, 30}
		p := c.PValue(GuessThree)
		near(t, "probability", g.P(c), p, 6*math.Sqrt(p*(1-p)/20000)+2e-4)
	}
	if p := g.P(Count{}); p != 1 {
		t.Errorf("no trials: %g", p)
	}
	v := Judge(Count{12, 30}, GuessThree, .05, Discriminated(GuessThree, .5), .8)
	if v.Revised(.04).Outcome != Heard || v.Revised(.06).Outcome != NotHeard {
		t.Errorf("revised: %v", v)
	}
}

// Among 40,000 guessing listeners fewer than 5 % are called above chance.
func TestGuessedTracksHoldTheirSize(t *testing.T) {
	rule := Rule{Down: 2, Start: -20, Step: 1, Coarse: 6, Lo: -70, Hi: -20}
	null := GuessTracks(seeded(t, 1), rule, GuessThree, 14, 90, 20_000)
	rng := seeded(t, 2)
	called := 0
	for range 40_000 {
		if null.P(guessTrack(rng, rule, GuessThree, 14, 90)) <= .05 {
			called++
		}
	}
	t.Logf("called above chance: %.2f %%", float64(called)/400)
	if called > 2000 {
		t.Errorf("%d of 40000 guessing listeners called above chance", called)
	}
}
