package hearing

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"quietcross/dsp/bracket"
	"quietcross/dsp/level"
)

// A listener's efficiency from answers. The model gives d' for each condition at
// efficiency 0; a listener with an efficiency of e dB has 10^(e/10) times that, and is
// right with the task's probability at it. Once in fifty trials anyone guesses,
// whatever was heard (the lapse rate, this project's choice, common practice). The
// efficiency is the maximum of the likelihood of all answers, its interval the values
// whose log likelihood lies within half the 95 % point of chi squared with one degree
// of freedom of it (profile likelihood; there is no other parameter).

const (
	lapse      = 0.02
	chiSquared = 3.841458820694124 // 95 %, one degree of freedom
	fine       = 1e-4              // dB, to which a value is found
)

// Trial is one answer.
type Trial struct {
	// DPrime is the model's d' for the condition at efficiency 0, 0 or more.
	DPrime float64
	// Task is what was asked.
	Task Task
	// Right says whether the answer was right.
	Right bool
}

// Efficiency is a fitted efficiency.
type Efficiency struct {
	// DB is the value of maximum likelihood, Low and High bound its 95 % interval,
	// all within plus and minus [MaximumEfficiency]. An interval that reaches such an
	// end is open there: all right, or none better than guessing.
	DB   level.DB `json:"efficiency_db"`
	Low  level.DB `json:"low_db"`
	High level.DB `json:"high_db"`
	// Trials is the number of answers.
	Trials int `json:"trials"`
}

// FitEfficiency fits the efficiency of one listener, or of a panel whose answers are
// pooled. It returns an error if there is no trial, a d' is no number of 0 or more, or
// no trial had any difference.
func FitEfficiency(trials []Trial) (Efficiency, error) {
	if err := checkTrials(trials); err != nil {
		return Efficiency{}, err
	}
	groups := grouped(trials)
	at := func(e float64) float64 { return likelihood(groups, e) }
	const bound, step = float64(MaximumEfficiency), 0.25
	best := -bound
	for e := -bound; e <= bound; e += step {
		if at(e) > at(best) {
			best = e
		}
	}
	best, _, _ = bracket.Minimum(bracket.Sure(func(e float64) float64 { return -at(e) }), // cannot fail
		max(-bound, best-step), min(bound, best+step), fine)
	least := at(best) - chiSquared/2
	return Efficiency{
		DB:  level.DB(best),
		Low: level.DB(crossing(at, least, best, -bound)), High: level.DB(crossing(at, least, best, bound)),
		Trials: len(trials),
	}, nil
}

func checkTrials(trials []Trial) error {
	if len(trials) == 0 {
		return errors.New("hearing: no trials to fit an efficiency to")
	}
	any := false
	for i, t := range trials {
		if !finite(t.DPrime) || t.DPrime < 0 || t.Task >= taskCount {
			return fmt.Errorf("hearing: trial %d: d' %g in task %d: legal are 0 or more in tasks 0 to %d", i+1, t.DPrime, t.Task, taskCount-1)
		}
		any = any || t.DPrime > 0
	}
	if !any {
		return errors.New("hearing: no trial had a difference: they say nothing of an efficiency")
	}
	return nil
}

// trialKind is what trials of equal d' and task share.
type trialKind struct {
	dPrime float64
	task   Task
}

// count is the number of right and wrong answers.
type count struct{ right, wrong float64 }

func grouped(trials []Trial) map[trialKind]count {
	groups := make(map[trialKind]count)
	for _, t := range trials {
		g := groups[trialKind{t.DPrime, t.Task}]
		if t.Right {
			g.right++
		} else {
			g.wrong++
		}
		groups[trialKind{t.DPrime, t.Task}] = g
	}
	return groups
}

func likelihood(groups map[trialKind]count, efficiency float64) float64 {
	gain, total := level.DB(efficiency).Power(), 0.0
	for c, n := range groups {
		p := answersRight(c.task, gain*c.dPrime)
		total += n.right*math.Log(p) + n.wrong*math.Log1p(-p)
	}
	return total
}

// answersRight is the probability of a right answer, lapses included.
func answersRight(t Task, d float64) float64 {
	return (1-lapse)*correctTable()[t].at(d) + lapse*t.Guess()
}

// crossing returns where f, over least at inside, falls to it on the way to bound, or
// bound if it does not.
func crossing(f func(float64) float64, least, inside, bound float64) float64 {
	if f(bound) >= least {
		return bound
	}
	x, err := bracket.Root(bracket.Sure(func(x float64) float64 { return f(x) - least }), inside, bound, fine)
	if err != nil {
		panic(err) // f is over least at one end and under it at the other
	}
	return x
}

// correct tabulates the probability of a right answer against d'.
type correct [1001]float64

const correctStep = 0.01

var correctTable = sync.OnceValue(func() *[taskCount]correct {
	tables := new([taskCount]correct)
	for _, t := range Tasks {
		for i := range tables[t] {
			tables[t][i] = t.Correct(correctStep * float64(i))
		}
	}
	return tables
})

// at interpolates the table.
func (c *correct) at(d float64) float64 {
	x := d / correctStep
	if x >= float64(len(c)-1) {
		return c[len(c)-1]
	}
	i := int(x)
	return c[i] + (x-float64(i))*(c[i+1]-c[i])
}

// Simulated is a listener of the model, for tests of a panel's whole way.
type Simulated struct {
	// Efficiency is as [Config.Efficiency].
	Efficiency level.DB
	// Random draws the answers.
	Random *rand.Rand
}

// Answer draws whether the listener is right at a condition whose d' at efficiency 0
// is given.
func (s *Simulated) Answer(t Task, dPrime float64) bool {
	return s.Random.Float64() < answersRight(t, s.Efficiency.Power()*dPrime)
}
