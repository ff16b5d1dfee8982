package statistics

import (
	"fmt"
)

// Plan is a fixed-length forced-choice test as stated before its first trial.
type Plan struct {
	Trials   int     // number of trials
	Critical int     // minimum number right that is significant; Trials+1 when none is
	Guess    float64 // probability of a right answer by guessing
	Alpha    float64 // nominal size the critical number was chosen for
	Size     float64 // actual probability that a guessing listener reaches Critical
}

// Critical returns the minimum number right of n whose exact one-sided
// probability under guessing is at most alpha, and n+1 when even n right is not
// enough.
func Critical(n int, guess, alpha float64) int {
	checkProbability("alpha", alpha)
	lo, hi := 0, n+1
	for lo < hi {
		if mid := (lo + hi) / 2; Tail(n, mid, guess) <= alpha {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo
}

// NewPlan returns the plan of n trials with the critical number for alpha. It
// panics unless n >= 1 and both probabilities lie in [0, 1].
func NewPlan(n int, guess, alpha float64) Plan {
	if n < 1 {
		panic(fmt.Sprintf("statistics: plan of %d trials", n))
	}
	k := Critical(n, guess, alpha)
	return Plan{Trials: n, Critical: k, Guess: guess, Alpha: alpha, Size: Tail(n, k, guess)}
}

// Power returns the probability that a listener who is right with probability p
// reaches the critical number. One minus it is the risk of missing that
// listener (the type 2 error of Leventhal, JAES 34:437, 1986).
func (p Plan) Power(right float64) float64 { return Tail(p.Trials, p.Critical, right) }

// MinimumTrials returns the plan with the fewest trials whose power against a
// listener right with probability right is at least power at size alpha. It
// returns an error when right does not exceed guess or when more than 10,000
// trials would be needed. Power is not monotone in the number of trials (the
// critical number moves in whole steps), so a longer plan may have less.
func MinimumTrials(guess, right, alpha, power float64) (Plan, error) {
	checkProbability("guess", guess)
	checkProbability("power", power)
	if !(right > guess && right <= 1) {
		return Plan{}, fmt.Errorf("statistics: a listener right with probability %g cannot be told from guessing at %g; it must lie above it and at most 1", right, guess)
	}
	for n := 1; n <= mostSearched; n++ {
		if p := NewPlan(n, guess, alpha); p.Power(right) >= power {
			return p, nil
		}
	}
	return Plan{}, fmt.Errorf("statistics: power %g against %g needs more than %d trials", power, right, mostSearched)
}

// mostSearched bounds what is searched for one listener: nobody listens so often.
const mostSearched = mostListeners

// Discriminated returns the probability of a right answer when a share of all
// trials is truly heard and the rest is guessed: guess + share (1 - guess).
func Discriminated(guess, share float64) float64 {
	checkProbability("share", share)
	return guess + share*(1-guess)
}
