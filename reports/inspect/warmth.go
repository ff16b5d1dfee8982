package inspect

import (
	"errors"
	"math"

	"quietcross/stage"
)

// Warmth is what a setting costs in heat.
type Warmth struct {
	// Powers are over levels from MinimumLevel to 0 dB re the default drive, a
	// sine, with every junction at the ambient temperature.
	Powers []stage.Power
	// Rest and Full are the stage settled at the temperatures that its own heat
	// gives it, with no signal and with a sine at the default drive; nil where it
	// does not settle, for the reason given.
	Rest, Full               *stage.Settled
	RestRefusal, FullRefusal string
}

// Levels of the power curves, dB re the default drive.
const (
	MinimumLevel = -36
	levelStep    = 2
)

// warmth solves a setting's powers and temperatures.
func warmth(st *stage.Stage, setting stage.Setting, biased *stage.Biased) (Warmth, error) {
	var w Warmth
	for level := MinimumLevel; level <= 0; level += levelStep {
		power, err := biased.Power(biased.Drive() * math.Pow(10, float64(level)/20))
		if err != nil {
			return w, err
		}
		w.Powers = append(w.Powers, power)
	}
	var err error
	if w.Rest, w.RestRefusal, err = settle(st, setting, 0); err != nil {
		return w, err
	}
	w.Full, w.FullRefusal, err = settle(st, setting, biased.Drive())
	return w, err
}

// settle finds the steady temperatures; a stage that has none is an answer, not
// an error.
func settle(st *stage.Stage, setting stage.Setting, peak float64) (*stage.Settled, string, error) {
	settled, err := st.Settle(setting, peak)
	if errors.Is(err, stage.ErrRunaway) || errors.Is(err, stage.ErrTooHot) {
		return nil, err.Error(), nil
	}
	if err != nil {
		return nil, "", err
	}
	return &settled, "", nil
}
