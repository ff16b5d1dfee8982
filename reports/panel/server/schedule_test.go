package server

import (
	"math"
	"math/rand/v2"
	"testing"

	"quietcross/dsp/level"
	"quietcross/reports/panel/statistics"
)

// following takes the trials from the beginning and returns what follows.
func following(t *testing.T, v *Session, trials []Trial) (step, bool) {
	t.Helper()
	p, err := v.newProgress()
	if err != nil {
		t.Fatal(err)
	}
	for i := range trials {
		p.take(&trials[i])
	}
	return p.next()
}

// play runs a session without a server; rights are the answers' fate.
func play(t *testing.T, v *Session, right func(Kind, float64) bool) []Trial {
	t.Helper()
	var trials []Trial
	p, err := v.newProgress()
	if err != nil {
		t.Fatal(err)
	}
	for range 1000 {
		next, more := p.next()
		if !more {
			return trials
		}
		made := Trial{Kind: next.kind, Rung: Rung{Residual: level.DB(next.level)}, Odd: 1, Choice: 2}
		if right(next.kind, next.level) {
			made.Choice = 1
		}
		p.take(&made)
		trials = append(trials, made)
	}
	t.Fatal("no end")
	return nil
}

func TestScheduleOfEachMethod(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	curve := statistics.Curve{Location: -45, Scale: 2, Guess: statistics.GuessThree}
	hear := func(_ Kind, x float64) bool { return rng.Float64() < curve.At(x) }
	for _, m := range []Method{Adaptive, Staircase, Triangle, Graded, Multi} {
		v := &Session{Settings: Defaults(m), Lo: -70, Hi: -20, Seed: 99}
		trials := play(t, v, hear)
		counts := map[Kind]int{}
		for i, tr := range trials {
			if (tr.Kind == Practice || tr.Kind == GradedTry) && i >= v.Settings.Practice {
				t.Errorf("%s: practice after the start", m)
			}
			counts[tr.Kind]++
		}
		if got := counts[CatchLarge] - counts[CatchNull]; got < -1 || got > 1 {
			t.Errorf("%s: catch trials do not take turns: %v", m, counts)
		}
		switch m {
		case Graded:
			if counts[GradedKind] != 20 || counts[GradedTry] != 2 || len(trials) != 22 {
				t.Errorf("graded: %v", counts)
			}
		case Multi:
			if counts[GradedKind] != 5 || counts[GradedTry] != 1 || len(trials) != 6 {
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

// The next trial is a function of what is stored: taken from the beginning the
// same answers lead to the trial that was made on the way, and a copy that tries
// another answer does not disturb it.
func TestScheduleIsAFunctionOfTheAnswers(t *testing.T) {
	for _, m := range []Method{Adaptive, Staircase, Triangle, Graded, Multi} {
		v := &Session{Settings: Defaults(m), Lo: -70, Hi: -20, Seed: 12}
		trials := play(t, v, func(_ Kind, x float64) bool { return x > -45 })
		p, err := v.newProgress()
		if err != nil {
			t.Fatal(err)
		}
		for i := range trials {
			a, _ := p.next()
			b, _ := following(t, v, trials[:i])
			if a != b || a.kind != trials[i].Kind {
				t.Fatalf("%s, trial %d: %+v and %+v", m, i+1, a, b)
			}
			other := trials[i]
			other.Choice = 3 - other.Choice
			p.clone().take(&other)
			p.take(&trials[i])
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
	for _, m := range []Method{Adaptive, Staircase, Triangle, Graded, Multi} {
		if err := Defaults(m).Validate(); err != nil {
			t.Error(err)
		}
	}
}

// A listener who guesses is called "not above chance" in 95 % or more of the
// sessions. Where the number of trials is fixed the binomial test is exact; a
// staircase ends on its answers, so its size is held by simulation, here to three
// standard errors of 5 % in 2,000 sessions.
func TestGuessersOfAStaircase(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	v := &Session{Settings: Defaults(Staircase), Lo: -70, Hi: -20}
	null := v.guessedTracks()
	heard := 0
	const runs = 2000
	for range runs {
		v.Seed = rng.Uint64()
		l := ListenerResult{Session: v, Trials: play(t, v, func(Kind, float64) bool { return rng.IntN(3) == 0 })}
		c := l.count()
		if statistics.Judge(c, statistics.GuessThree, v.Settings.Alpha, v.Settings.ability(), v.Settings.Power).Revised(null.P(c)).Outcome == statistics.Heard {
			heard++
		}
	}
	t.Logf("called above chance: %d of %d", heard, runs)
	if limit := runs*.05 + 3*math.Sqrt(runs*.05*.95); float64(heard) > limit {
		t.Errorf("guessing listeners called above chance in %d of %d sessions", heard, runs)
	}
}
