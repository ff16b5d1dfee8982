package server

import (
	"fmt"

	"quietcross/reports/panel/statistics"
)

// Method is the way a session is run.
type Method string

const (
	Adaptive  Method = "adaptive"       // Bayesian placement, the default
	Staircase Method = "staircase"      // transformed up-down after Levitt
	Triangle  Method = "triangle"       // one level, a stated number of trials
	Graded    Method = "graded"         // grades of ITU-R BS.1116: triple stimulus, hidden reference
	Multi     Method = "multi-stimulus" // the same scale for all items of a round at once
)

// Graded reports whether sessions ask for grades.
func (s Settings) Graded() bool { return s.Method == Graded || s.Method == Multi }

// Settings says how sessions are run. They are stored with each session when it
// begins; a later change does not touch it.
type Settings struct {
	Method   Method
	Practice int // practice trials with the answer shown, 0 to 10
	// Trials is the number of test trials (Adaptive, Triangle) or the most there
	// may be (Staircase), 5 to 400; the number of rounds (Graded, Multi), 1 to 20, each of every bias once.
	Trials int
	// Most is the largest number of test trials of an adaptive session, which ends after
	// Trials when the interval of the threshold is no wider than Width, dB. Up to 400; a
	// Most under Trials ends it there.
	Most  int
	Width float64
	// CatchEvery is the number of test trials to each catch trial, 0 (none) or
	// 4 to 50. Catch trials take turns: the largest difference there is, and
	// none at all.
	CatchEvery int
	Down       int     // Staircase: right answers before a step down, 1 to 4
	Step       float64 // Staircase: step in decibels, 0.5 to 10
	Reversals  int     // Staircase: reversals that end it, 4 to 40
	Quiescent  float64 // Triangle: quiescent current in amperes
	// Alpha is the size of the significance tests; Share the share of trials
	// truly heard by the listener whom the test should not miss, and Power the
	// power against that listener below which "not heard" is not said.
	Alpha, Share, Power float64
	// MissedLarge is how many of the largest differences a listener who is kept may
	// miss, and Screening the size of the test that a graded session must pass.
	MissedLarge int
	Screening   float64
	// Listen is how long each interval must be heard before an answer, s, or its whole
	// length when that is shorter; 0 to 30.
	Listen float64
	// After BreakEvery trials or rounds the clips stop for Break seconds; 0 for none.
	BreakEvery int
	Break      float64
}

// Defaults returns the settings of a method.
func Defaults(m Method) Settings {
	s := Settings{
		Method: m, Practice: 4, Trials: 50, Most: 200, Width: 5, CatchEvery: 9,
		Down: 2, Step: 1, Reversals: 14, Alpha: 0.05, Share: 0.5, Power: 0.8,
		MissedLarge: 1, Screening: 0.05, Listen: 1, BreakEvery: 20, Break: 30,
	}
	switch m {
	case Staircase:
		s.Trials = 90
	case Triangle:
		s.Trials = 24
	case Graded:
		s.Practice, s.Trials, s.CatchEvery, s.BreakEvery = 2, 5, 0, 10
	case Multi:
		s.Practice, s.Trials, s.CatchEvery, s.BreakEvery = 1, 5, 0, 3
	}
	return s
}

// Validate returns an error that names the setting, what it is and what is
// legal.
func (s Settings) Validate() error {
	type bound struct {
		name      string
		v, lo, hi float64
	}
	checks := []bound{
		{"Practice", float64(s.Practice), 0, 10},
		{"Alpha", s.Alpha, 0.0001, 0.2},
		{"Share", s.Share, 0.05, 1},
		{"Power", s.Power, 0.5, 0.999},
		{"MissedLarge", float64(s.MissedLarge), 0, 400},
		{"Screening", s.Screening, 0.0001, 0.2},
		{"Listen", s.Listen, 0, 30},
		{"BreakEvery", float64(s.BreakEvery), 0, 400},
		{"Break", s.Break, 0, 3600},
	}
	if s.CatchEvery != 0 {
		checks = append(checks, bound{"CatchEvery", float64(s.CatchEvery), 4, 50})
	}
	switch s.Method {
	case Adaptive:
		checks = append(checks, bound{"Trials", float64(s.Trials), 5, 400}, bound{"Most", float64(s.Most), 0, 400}, bound{"Width", s.Width, 0, 100})
	case Triangle:
		checks = append(checks, bound{"Trials", float64(s.Trials), 5, 400}, bound{"Quiescent", s.Quiescent, 0, 1000})
	case Staircase:
		checks = append(checks, bound{"Trials", float64(s.Trials), 5, 400}, bound{"Down", float64(s.Down), 1, 4},
			bound{"Step", s.Step, 0.5, 10}, bound{"Reversals", float64(s.Reversals), 4, 40})
	case Graded, Multi:
		checks = append(checks, bound{"Trials", float64(s.Trials), 1, 20})
	default:
		return fmt.Errorf("panel: method %q; want %s, %s, %s, %s or %s", s.Method, Adaptive, Staircase, Triangle, Graded, Multi)
	}
	for _, c := range checks {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return fmt.Errorf("panel: %s is %g; want %g to %g", c.name, c.v, c.lo, c.hi)
		}
	}
	return nil
}

// Plan returns the fixed-level test as stated before its first trial, and its
// power against the listener of Share.
func (s Settings) Plan() (plan statistics.Plan, power float64) {
	plan = statistics.NewPlan(s.Trials, statistics.GuessThree, s.Alpha)
	return plan, plan.Power(s.ability())
}

// ability is the proportion right of the listener whom the test should not miss.
func (s Settings) ability() float64 {
	return statistics.Discriminated(statistics.GuessThree, s.Share)
}
