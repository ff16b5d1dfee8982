package server

import (
	"math/rand/v2"
	"time"

	"quietcross/reports/panel/statistics"
)

// step is what the next trial shall be.
type step struct {
	kind   Kind
	level  float64 // residual wanted, decibels; no meaning for a null trial and for grades
	object int     // triple stimulus: what is graded, of gradedItems
}

// track chooses the levels of the test trials of a session.
type track interface {
	next() (level float64, more bool)
	answer(level float64, right bool)
	clone() track
}

type adaptiveTrack struct {
	*statistics.Placement
	least, most int
	width       float64 // of the interval at which it may end, dB
}

// next ends a track that is long enough when its interval is narrow enough: a shallow
// curve needs three times the trials of a steep one for the same threshold.
func (t adaptiveTrack) next() (float64, bool) {
	if n := t.Trials(); n >= t.most || n >= t.least && t.narrow() {
		return 0, false
	}
	return t.Next(), true
}

func (t adaptiveTrack) narrow() bool {
	i := t.Threshold(intervalLevel).Interval
	return i.Hi-i.Lo <= t.width
}

func (t adaptiveTrack) answer(level float64, right bool) { t.Answer(level, right) }

func (t adaptiveTrack) clone() track { return adaptiveTrack{t.Clone(), t.least, t.most, t.width} }

type staircaseTrack struct {
	*statistics.Staircase
	reversals, most int
}

func (t staircaseTrack) next() (float64, bool) {
	return t.Level(), len(t.Reversals()) < t.reversals && t.Trials() < t.most
}

func (t staircaseTrack) answer(_ float64, right bool) { t.Answer(right) }

func (t staircaseTrack) clone() track { return staircaseTrack{t.Clone(), t.reversals, t.most} }

type fixedTrack struct {
	level        float64
	done, trials int
}

func (t *fixedTrack) next() (float64, bool) { return t.level, t.done < t.trials }
func (t *fixedTrack) answer(float64, bool)  { t.done++ }

func (t *fixedTrack) clone() track {
	c := *t
	return &c
}

// prior is that of the session's threshold.
func (s *Session) prior() statistics.Prior { return statistics.DecibelPrior(s.Lo, s.Hi) }

// rule is that of the session's staircase: it starts at the largest difference
// and comes down in steps of 6 dB until its second reversal.
func (s *Session) rule() statistics.Rule {
	return statistics.Rule{
		Down: s.Settings.Down, Start: s.Hi, Step: s.Settings.Step,
		Coarse: max(6, s.Settings.Step), Lo: s.Lo, Hi: s.Hi,
	}
}

// guessedTracks is the session's staircase in the hands of guessing listeners,
// the same whenever it is asked for.
func (s *Session) guessedTracks() *statistics.GuessedTracks {
	const runs = 20_000
	return statistics.GuessTracks(rand.New(rand.NewPCG(1, 3)), s.rule(), statistics.GuessThree, s.Settings.Reversals, s.Settings.Trials, runs)
}

// newTrack starts the track of the session's method.
func (s *Session) newTrack() (track, error) {
	switch s.Settings.Method {
	case Staircase:
		return staircaseTrack{statistics.NewStaircase(s.rule()), s.Settings.Reversals, s.Settings.Trials}, nil
	case Triangle:
		return &fixedTrack{level: s.Hi, trials: s.Settings.Trials}, nil
	case Graded:
		return &fixedTrack{trials: s.Settings.Trials * len(gradedItems)}, nil
	case Multi:
		return &fixedTrack{trials: s.Settings.Trials}, nil
	}
	p, err := statistics.NewPlacement(s.prior())
	return adaptiveTrack{p, s.Settings.Trials, max(s.Settings.Trials, s.Settings.Most), s.Settings.Width}, err
}

// progress is how far a session has come: all of its answered trials, taken in
// order. What follows is a function of the session and those trials alone, so
// that a session goes on after a crash exactly where it stood.
type progress struct {
	session                                  *Session
	track                                    track
	taken, practised, tested, caught, graded int
}

func (s *Session) newProgress() (*progress, error) {
	t, err := s.newTrack()
	return &progress{session: s, track: t}, err
}

// take accounts for the next answered trial.
func (p *progress) take(t *Trial) {
	p.taken++
	switch t.Kind {
	case Practice, GradedTry:
		p.practised++
	case Test:
		p.track.answer(float64(t.Rung.Residual), t.Right())
		p.tested++
	case GradedKind:
		p.track.answer(0, true)
		p.graded++
	default:
		p.caught++
	}
}

// next returns what follows, and false after the last.
func (p *progress) next() (step, bool) {
	s := p.session
	if p.practised < s.Settings.Practice {
		if s.Settings.Graded() {
			// The largest differences first.
			return step{kind: GradedTry, object: len(gradedItems) - 1 - p.practised%len(gradedItems)}, true
		}
		return step{kind: Practice, level: s.practiceLevel(p.practised)}, true
	}
	level, more := p.track.next()
	switch {
	case !more:
		return step{}, false
	case s.Settings.Graded():
		return step{kind: GradedKind, object: s.object(p.graded)}, true
	case s.catchDue(p.tested, p.caught):
		return step{kind: s.catchKind(p.caught), level: s.Hi}, true
	}
	return step{kind: Test, level: level}, true
}

// rest returns how long the listener still rests at a moment, after the last of the
// answered trials.
func (p *progress) rest(last *Trial, now time.Time) time.Duration {
	s := p.session.Settings
	if done := p.taken - s.Practice; s.BreakEvery == 0 || done <= 0 || done%s.BreakEvery != 0 {
		return 0
	}
	return max(0, last.Answered.Add(time.Duration(s.Break*float64(time.Second))).Sub(now))
}

// clone returns a copy to try an answer on.
func (p *progress) clone() *progress {
	c := *p
	c.track = p.track.clone()
	return &c
}

// object is what the triple-stimulus trial after so many others grades: each bias once in
// every round, in an order of the round's own.
func (s *Session) object(done int) int {
	n := len(gradedItems)
	return rand.New(rand.NewPCG(s.Seed, uint64(done/n))).Perm(n)[done%n]
}

// practiceLevel starts at the largest difference and comes down by an eighth of
// the range with each trial.
func (s *Session) practiceLevel(done int) float64 {
	return max(s.Lo, s.Hi-float64(done)*(s.Hi-s.Lo)/8)
}

// catchDue reports whether a catch trial comes before the next test trial. Each
// block of CatchEvery test trials has one, at a place of its own.
func (s *Session) catchDue(tested, caught int) bool {
	every := s.Settings.CatchEvery
	if every == 0 {
		return false
	}
	place := rand.New(rand.NewPCG(s.Seed, uint64(caught))).IntN(every)
	return tested >= caught*every+place+1
}

// catchKind lets large and null trials take turns, the first by lot.
func (s *Session) catchKind(caught int) Kind {
	if (uint64(caught)+s.Seed)%2 == 0 {
		return CatchLarge
	}
	return CatchNull
}

// expected is about how many trials the session has in all.
func (s *Session) expected() int {
	n := s.Settings.Trials
	if s.Settings.Method == Staircase {
		n = min(n, 4*s.Settings.Reversals)
	}
	if s.Settings.Method == Graded {
		n *= len(gradedItems)
	}
	if s.Settings.CatchEvery > 0 {
		n += n / s.Settings.CatchEvery
	}
	return n + s.Settings.Practice
}
