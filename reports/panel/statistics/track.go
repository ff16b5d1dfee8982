package statistics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// GuessedTracks is the distribution of the score of a staircase whose listener
// only guesses. A staircase ends on its answers, so that the number right is not
// binomial and the exact test does not hold its size; this does, by simulation.
type GuessedTracks struct {
	guess  float64
	scores []float64 // ascending
}

// GuessTracks simulates runs tracks under a rule, each until it has the given
// reversals or most trials. It panics unless runs, reversals and most are
// positive.
func GuessTracks(rng *rand.Rand, r Rule, guess float64, reversals, most, runs int) *GuessedTracks {
	checkProbability("guess", guess)
	if runs < 1 || reversals < 1 || most < 1 {
		panic(fmt.Sprintf("statistics: %d tracks to %d reversals or %d trials", runs, reversals, most))
	}
	g := &GuessedTracks{guess: guess, scores: make([]float64, runs)}
	for i := range g.scores {
		g.scores[i] = g.score(guessTrack(rng, r, guess, reversals, most))
	}
	slices.Sort(g.scores)
	return g
}

// guessTrack is one track of a guessing listener.
func guessTrack(rng *rand.Rand, r Rule, guess float64, reversals, most int) Count {
	s, c := NewStaircase(r), Count{}
	for len(s.Reversals()) < reversals && c.Trials < most {
		right := rng.Float64() < guess
		s.Answer(right)
		c.Trials++
		if right {
			c.Right++
		}
	}
	return c
}

// score is the distance from guessing in standard deviations.
func (g *GuessedTracks) score(c Count) float64 {
	n := float64(c.Trials)
	return (float64(c.Right) - n*g.guess) / math.Sqrt(n*g.guess*(1-g.guess))
}

// P returns the probability that a guessing listener's track scores at least as
// high as c: the upper end of the 95 % interval of the simulated share, so that
// the chance in the simulation does not favour the listener. It is 1 without
// trials.
func (g *GuessedTracks) P(c Count) float64 {
	c.check()
	if c.Trials == 0 {
		return 1
	}
	at, _ := slices.BinarySearch(g.scores, g.score(c))
	return Count{len(g.scores) - at, len(g.scores)}.Interval(0.95).Hi
}

// Revised returns the verdict decided by p, a probability under guessing that
// accounts for what the exact test does not know, such as a staircase's end.
func (v Verdict) Revised(p float64) Verdict {
	v.P = p
	v.Outcome = Undecided
	switch {
	case p <= v.Plan.Alpha && v.Count.Trials > 0:
		v.Outcome = Heard
	case v.Power >= v.Wanted:
		v.Outcome = NotHeard
	}
	return v
}
