package statistics

import (
	"fmt"
	"math"
	"slices"
)

// Rule is a transformed up-down rule after Levitt (JASA 49:467, 1971): Down
// right answers in a row lower the level by one step, one wrong answer raises
// it. A lower level is harder.
type Rule struct {
	Down  int     // right answers in a row before a step down, 1 or more
	Start float64 // level of the first trial
	Step  float64 // size of a step, positive
	// Coarse is the step until the second reversal, so that a track that starts
	// far away arrives soon; 0 means Step.
	Coarse float64
	// Lo and Hi bound the level when Hi > Lo. A step that would pass a bound
	// stops there.
	Lo, Hi float64
}

// Target returns the proportion right on which the track converges: the level
// at which Down right answers in a row are as likely as not, 0.5^(1/Down).
func (r Rule) Target() float64 { return math.Pow(0.5, 1/float64(r.Down)) }

// Reversal is a trial whose answer turned the direction of the track.
type Reversal struct {
	Trial int     // number of the trial, counted from 1
	Level float64 // level of that trial
}

// Staircase is the state of one track.
type Staircase struct {
	rule      Rule
	level     float64
	trial     int
	inRow     int
	direction int // -1 down, +1 up, 0 before the first step
	reversals []Reversal
	atBound   int
}

// NewStaircase starts a track. It panics unless Down is at least 1 and Step
// positive.
func NewStaircase(r Rule) *Staircase {
	if r.Down < 1 || !(r.Step > 0) || r.Coarse < 0 {
		panic(fmt.Sprintf("statistics: staircase rule %+v", r))
	}
	return &Staircase{rule: r, level: r.Start}
}

// Level returns the level of the next trial.
func (s *Staircase) Level() float64 { return s.level }

// Answer records the answer to the trial at Level and moves the track.
func (s *Staircase) Answer(right bool) {
	s.trial++
	switch {
	case !right:
		s.inRow = 0
		s.move(1)
	case s.inRow+1 == s.rule.Down:
		s.inRow = 0
		s.move(-1)
	default:
		s.inRow++
	}
}

func (s *Staircase) move(direction int) {
	if s.direction == -direction {
		s.reversals = append(s.reversals, Reversal{Trial: s.trial, Level: s.level})
	}
	s.direction = direction
	step := s.rule.Step
	if s.rule.Coarse > 0 && len(s.reversals) < 2 {
		step = s.rule.Coarse
	}
	next := s.level + float64(direction)*step
	if s.rule.Hi > s.rule.Lo {
		bounded := min(max(next, s.rule.Lo), s.rule.Hi)
		if bounded != next {
			s.atBound++
		}
		next = bounded
	}
	s.level = next
}

// Clone returns a copy of the track that goes its own way.
func (s *Staircase) Clone() *Staircase {
	c := *s
	c.reversals = slices.Clone(s.reversals)
	return &c
}

// Trials returns the number of answers so far.
func (s *Staircase) Trials() int { return s.trial }

// AtBound returns how many steps were cut short by the bounds of the rule. An
// estimate of a track that was often cut short is not to be trusted.
func (s *Staircase) AtBound() int { return s.atBound }

// Reversals returns the reversals so far; the slice is the track's own.
func (s *Staircase) Reversals() []Reversal { return s.reversals }

// Midpoints returns the midpoint of every run between two reversals, the first
// of which is Levitt's run 2.
func (s *Staircase) Midpoints() []float64 {
	if len(s.reversals) < 2 {
		return nil
	}
	out := make([]float64, len(s.reversals)-1)
	for i := range out {
		out[i] = (s.reversals[i].Level + s.reversals[i+1].Level) / 2
	}
	return out
}

// Estimate returns Levitt's estimate, the mean of the midpoints of every second
// run, after leaving out the first discard reversals. It reports false when no
// whole run is left.
func (s *Staircase) Estimate(discard int) (level float64, ok bool) {
	mids := s.Midpoints()
	sum, n := 0.0, 0
	for i := discard; i < len(mids); i += 2 {
		sum += mids[i]
		n++
	}
	return sum / float64(n), n > 0
}
