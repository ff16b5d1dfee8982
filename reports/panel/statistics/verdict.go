package statistics

import "fmt"

// Outcome is what a fixed-level test may claim.
type Outcome uint8

const (
	// Heard: the count is significant at the stated size.
	Heard Outcome = iota + 1
	// NotHeard: the count is not significant and the test had the stated power
	// to find a listener of the stated ability. It speaks of this listener, this
	// level and this test only.
	NotHeard
	// Undecided: the count is not significant, and the test had too little
	// power to tell.
	Undecided
)

// String returns the wording used in reports.
func (o Outcome) String() string {
	switch o {
	case Heard:
		return "above chance"
	case NotHeard:
		return "not above chance"
	case Undecided:
		return "not above chance, and too few trials to tell"
	}
	return fmt.Sprintf("Outcome(%d)", uint8(o))
}

// Verdict is the outcome of a fixed-level test with everything that qualifies
// it.
type Verdict struct {
	Count    Count
	Plan     Plan // of the trials as run; zero without trials
	Outcome  Outcome
	P        float64  // exact one-sided probability of the count under guessing
	Interval Interval // Clopper–Pearson, 95 %, probability of a right answer
	Ability  float64  // the proportion right that the power is stated for
	Power    float64  // power of the test as run against Ability
	Wanted   float64  // the power below which "not heard" is not said
}

// Judge reports what c says at size alpha. ability is the proportion right of
// the listener whom the test should not miss, and wanted the minimum power
// against that listener for which a result short of significance is called
// [NotHeard] rather than [Undecided]. The power is that of the trials as run,
// not as planned. A count without trials is Undecided.
func Judge(c Count, guess, alpha, ability, wanted float64) Verdict {
	c.check()
	checkProbability("ability", ability)
	v := Verdict{Count: c, P: 1, Ability: ability, Wanted: wanted, Outcome: Undecided, Interval: c.Interval(0.95)}
	if c.Trials == 0 {
		return v
	}
	v.Plan = NewPlan(c.Trials, guess, alpha)
	v.P = c.PValue(guess)
	v.Power = v.Plan.Power(ability)
	switch {
	case c.Right >= v.Plan.Critical:
		v.Outcome = Heard
	case v.Power >= wanted:
		v.Outcome = NotHeard
	}
	return v
}
