package server

import (
	"errors"
	"fmt"
	"slices"
	"sync"

	"quietcross/dsp/hearing"
	"quietcross/reports/panel/statistics"
)

// Answers as the detection model takes them: what was presented, at which level, and
// whether it was right. From them the model's one free constant is fitted, the efficiency
// of a listener or of the panel.

// Presented is a trial as far as the model's prediction depends on it.
type Presented struct {
	Material, Stimulus string
	Quiescent          float64 // of the rendering, A
	Heard              hearing.Conditions
}

// Answer is the answer to a presented odd-one-out trial.
type Answer struct {
	Presented
	Right bool
}

// ErrNoAnswers: there are none that say anything of a listener's efficiency.
var ErrNoAnswers = errors.New("no usable answers")

// Answers returns the test answers of the listener with a code, or of the whole panel
// for "": of odd-one-out sessions that are finished and passed the screening, at a level
// that is known and that the model knows. Further sessions on a material count here. The
// error is [ErrNoAnswers], with the reason, when there are none.
func (r *Results) Answers(code string, room float64) ([]Answer, error) {
	var out []Answer
	var why []string
	found := false
	for i := range r.Materials {
		for j := range r.Materials[i].Listeners {
			l := &r.Materials[i].Listeners[j]
			if code != "" && l.Session.Code != code {
				continue
			}
			found = true
			if fault := l.unfit(); fault != "" {
				why = append(why, fault)
				continue
			}
			out = append(out, l.answers(room)...)
		}
	}
	switch {
	case !found && code != "":
		return nil, fmt.Errorf("%w: nobody is called %q", ErrNoAnswers, code)
	case !found:
		return nil, fmt.Errorf("%w: nobody has begun", ErrNoAnswers)
	case len(out) == 0:
		slices.Sort(why)
		return nil, fmt.Errorf("%w: %v", ErrNoAnswers, slices.Compact(why))
	}
	return out, nil
}

// unfit says why a session's answers cannot be used, and nothing when they can.
func (l *ListenerResult) unfit() string {
	v := l.Session
	switch {
	case v.Settings.Graded():
		return "grades are no right or wrong answers"
	case !l.Kept && !l.Again:
		return l.LeftOut
	case v.Playback == nil:
		return "the level at the ear is not known"
	}
	if err := hearing.CheckSPL(*v.Playback); err != nil {
		return err.Error()
	}
	return ""
}

func (l *ListenerResult) answers(room float64) (out []Answer) {
	v := l.Session
	heard := hearing.Conditions{Playback: *v.Playback, RoomNR: room}
	for i := range l.Trials {
		if t := &l.Trials[i]; t.Kind == Test {
			out = append(out, Answer{Presented{v.Material, v.Stimulus, t.Rung.Quiescent, heard}, t.Right()})
		}
	}
	return out
}

// FitListener fits the efficiency to answers by the model's d' of each presented trial at
// efficiency 0; trials that it has no d' for are left out.
func FitListener(answers []Answer, dPrime map[Presented]float64) (hearing.Efficiency, error) {
	var trials []hearing.Trial
	for _, a := range answers {
		if d, ok := dPrime[a.Presented]; ok {
			trials = append(trials, hearing.Trial{DPrime: d, Task: hearing.Triangle, Right: a.Right})
		}
	}
	if len(trials) == 0 {
		return hearing.Efficiency{}, fmt.Errorf("%w: none was given to what this set has", ErrNoAnswers)
	}
	return hearing.FitEfficiency(trials)
}

// ThresholdSensitivity is the d' at which a panel's threshold lies: an odd one out of
// three heard in half of the trials after guessing is taken out.
var ThresholdSensitivity = sync.OnceValue(func() float64 {
	return statistics.TriangleSensitivity(statistics.Discriminated(statistics.GuessThree, 0.5))
})
