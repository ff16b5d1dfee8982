package panel

import (
	"math/rand/v2"
	"testing"

	"quietcross/dsp/level"
	"quietcross/reports/psychometric"
)

// play runs a session without a server; rights are the answers' fate.
func play(t *testing.T, v *Session, right func(Kind, float64) bool) []Trial {
	t.Helper()
	var trials []Trial
	for range 1000 {
		next, more, err := v.next(trials)
		if err != nil {
			t.Fatal(err)
		}
		if !more {
			return trials
		}
		made := Trial{Kind: next.kind, Rung: Rung{Residual: level.DB(next.level)}, Odd: 1, Choice: 2}
		if right(next.kind, next.level) {
			made.Choice = 1
		}
		trials = append(trials, made)
	}
	t.Fatal("no end")
	return nil
}

func TestScheduleOfEachMethod(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	curve := psychometric.Curve{Location: -45, Scale: 2, Guess: psychometric.GuessThree}
	hear := func(_ Kind, x float64) bool { return rng.Float64() < curve.At(x) }
	for _, m := range []Method{Adaptive, Staircase, Triangle, Graded} {
		v := &Session{Settings: Defaults(m), Lo: -70, Hi: -20, Seed: 99}
		trials := play(t, v, hear)
		counts := map[Kind]int{}
		for i, tr := range trials {
			if tr.Kind == Practice && i >= v.Settings.Practice {
				t.Errorf("%s: practice after the start", m)
			}
			counts[tr.Kind]++
		}
		if got := counts[CatchLarge] - counts[CatchNull]; got < -1 || got > 1 {
			t.Errorf("%s: catch trials do not take turns: %v", m, counts)
		}
		switch m {
		case Graded:
			if counts[GradedKind] != 4 || len(trials) != 6 {
				t.Errorf("graded: %v", counts)
			}
		case Staircase:
			if counts[Test] < 20 || counts[Test] > 90 {
				t.Errorf("staircase: %v", counts)
			}
		default:
			if want := v.Settings.Trials / v.Settings.CatchEvery; counts[Test] != v.Settings.Trials || counts[CatchLarge]+counts[CatchNull] < want {
				t.Errorf("%s: %v", m, counts)
			}
		}
	}
}

// The next trial is a function of what is stored: the same answers lead to the
// same trial, however often it is asked.
func TestScheduleIsAFunctionOfTheAnswers(t *testing.T) {
	v := &Session{Settings: Defaults(Adaptive), Lo: -70, Hi: -20, Seed: 12}
	trials := play(t, v, func(_ Kind, x float64) bool { return x > -45 })
	for i := range trials {
		a, _, _ := v.next(trials[:i])
		b, _, _ := v.next(trials[:i])
		if a != b || a.kind != trials[i].Kind {
			t.Fatalf("trial %d: %+v and %+v", i+1, a, b)
		}
	}
}

func TestSettingsAreChecked(t *testing.T) {
	for name, spoil := range map[string]func(*Settings){
		"method":    func(s *Settings) { s.Method = "loud" },
		"trials":    func(s *Settings) { s.Trials = 4 },
		"practice":  func(s *Settings) { s.Practice = 11 },
		"catch":     func(s *Settings) { s.CatchEvery = 2 },
		"alpha":     func(s *Settings) { s.Alpha = 0.5 },
		"share":     func(s *Settings) { s.Share = 0 },
		"down":      func(s *Settings) { s.Method, s.Down = Staircase, 5 },
		"quiescent": func(s *Settings) { s.Method, s.Quiescent = Triangle, -1 },
		"rounds":    func(s *Settings) { s.Method, s.Trials = Graded, 21 },
	} {
		s := Defaults(Adaptive)
		spoil(&s)
		if s.Validate() == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	for _, m := range []Method{Adaptive, Staircase, Triangle, Graded} {
		if err := Defaults(m).Validate(); err != nil {
			t.Error(err)
		}
	}
}
