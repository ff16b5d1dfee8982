package lesson

import (
	"fmt"

	"quietcross/dsp/level"
	"quietcross/reports/live/engine"
	"quietcross/reports/view/format"
)

// A sound is what one button plays.
type sound struct {
	label   string
	state   *state
	level   level.DB
	turnUp  bool
	monitor engine.Monitor
	makeUp  level.DB
	// verdict is of an output against the input, nil for any other sound.
	verdict *engine.Verdict
}

// controls are those that play it.
func (s *sound) controls() engine.Controls {
	c := engine.Controls{Level: s.level, TurnUp: s.turnUp, Monitor: s.monitor, MakeUp: s.makeUp, Match: true, Loop: true}
	if s.verdict != nil {
		c.Gain = s.verdict.Match
	}
	return c
}

// output is the music through a stage, turned up again where it is soft.
func (x *state) output(label string, l level.DB) (sound, error) {
	return x.heardAs(sound{label: label, level: l, turnUp: true})
}

// left is the music through a stage, left as soft as it is.
func (x *state) left(label string, l level.DB) (sound, error) {
	return x.heardAs(sound{label: label, level: l})
}

// heardAs plays a sound and predicts what is heard of the stage in it.
func (x *state) heardAs(s sound) (sound, error) {
	s.state, s.monitor = x, engine.Output
	c := s.controls()
	c.Loop = false
	if known, ok := x.verdicts[c]; ok {
		s.verdict = known
		return s, nil
	}
	var err error
	s.verdict, err = engine.Predict(x.music, rate, x.solution.Law, x.ladder.Drive(), c, x.heard, func(float64) bool { return x.ctx.Err() == nil })
	if err != nil {
		return s, fmt.Errorf("%s: %w", s.label, err)
	}
	x.verdicts[c] = s.verdict
	return s, nil
}

// input is the music itself, as loud as an output at a level.
func (x *state) input(label string, l level.DB) sound {
	return sound{label: label, state: x, level: l, turnUp: true, monitor: engine.Reference}
}

// residual is what a stage adds, made louder.
func (x *state) residual(label string, l, makeUp level.DB) sound {
	return sound{label: label, state: x, level: l, turnUp: true, monitor: engine.Residual, makeUp: makeUp}
}

// Where a predicted share of detections begins to be called by a word.
const (
	surely = 0.9
	often  = 0.5
	hardly = 0.1
)

// audible tells that a text may call a sound's fault heard: it is loud enough to be
// listened to, and predicted to be detected.
func (s *sound) audible() bool {
	return s.verdict != nil && s.verdict.Detection > surely && s.verdict.Peak > softest
}

// softest is the least peak of a sound that a text calls heard, re full scale.
const softest level.DB = -45

// inaudible tells that a text may call the fault not heard.
func (s *sound) inaudible() bool { return s.verdict != nil && s.verdict.Detection < hardly }

// says is the line below a button.
func (s *sound) says() string {
	switch {
	case s.monitor == engine.Reference:
		return "the music as it goes in"
	case s.monitor == engine.Residual && s.makeUp == 0:
		return "only what the stage adds"
	case s.monitor == engine.Residual:
		return "only what the stage adds, " + format.Fixed(float64(s.makeUp), 0) + "\u00a0dB louder"
	case s.verdict.Peak <= softest:
		return "next to silence comes out"
	}
	return predicted(s.verdict.Detection)
}

// predicted puts a share of detections into words. The page says the same of what it
// predicts itself.
func predicted(detection float64) string {
	switch {
	case detection > surely:
		return "predicted: heard (" + chance(detection) + ")"
	case detection >= often:
		return "predicted: often heard (" + chance(detection) + ")"
	case detection >= hardly:
		return "predicted: seldom heard (" + chance(detection) + ")"
	}
	return "predicted: not heard (" + chance(detection) + ")"
}

// chance writes a share.
func chance(p float64) string {
	switch {
	case p < 0.005:
		return "under 1\u00a0%"
	case p > 0.995:
		return "over 99\u00a0%"
	}
	return format.Fixed(100*p, 0) + "\u00a0%"
}
