// Package inspect shows a biased stage before anything is rendered through it:
// operating point, crossover, gain and clipping, as a table, as JSON and as a
// picture.
package inspect

import (
	"errors"
	"math"

	"quietcross/corpus/bias"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

// curvePoints is the number of points of the whole transfer curve: odd, so that
// one stands at the middle.
const curvePoints = 401

// Inspection is what a look at one stage at one or more settings tells.
type Inspection struct {
	Spec  stage.Spec
	Rungs []Rung
	// Drive is the stage's own, V peak at the input, the same for every setting; Optimum
	// the quiescent current that the circuit's theory holds best, A, 0 for none.
	Drive, Optimum float64
	// Inverts tells that the output falls while the input rises.
	Inverts bool
}

// Rung is the stage at one setting.
type Rung struct {
	*bias.Evaluation
	// Label names the setting, "73.4 mA".
	Label string
	Point stage.OperatingPoint
	// Curve is the transfer curve from a little beyond one clipping onset to a little
	// beyond the other, Near that around the crossover.
	Curve, Near []stage.Sample
	// Powers are of sines from MinimumLevel to 0 dB re the drive, with every junction at
	// the ambient temperature.
	Powers []stage.Power
	// Rest and Full are where the stage settles in the stage file's own air, with no
	// signal and with a sine at the drive.
	Rest, Full bias.Thermal
	// Limits is what the setting does at the edges of what its parts stand.
	Limits Limits
}

// Levels of the power curves, dB re the drive.
const (
	MinimumLevel = -36
	levelStep    = 2
)

// Look solves the stage at each setting, all at the stage's own drive. There must be at
// least one.
func Look(spec stage.Spec, settings []stage.Setting) (*Inspection, error) {
	if len(settings) == 0 {
		return nil, errors.New("no bias setting to inspect")
	}
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		return nil, err
	}
	look := &Inspection{Spec: spec, Drive: ladder.Drive(), Optimum: st.OptimumQuiescent(), Inverts: st.Inverts()}
	for _, setting := range settings {
		rung, err := look.at(ladder, setting)
		if err != nil {
			return nil, err
		}
		look.Rungs = append(look.Rungs, rung)
	}
	return look, nil
}

// nearSpan is the input to either side of the crossover in the picture, V: the
// dead zone of an unbiased silicon pair is about 0.6 V to either side (common
// practice). A driver's gain makes it so much narrower.
const nearSpan = 2.0

// beyond is how far the whole curve goes beyond clipping.
const beyond = 1.05

// at solves one setting.
func (look *Inspection) at(ladder *bias.Ladder, setting stage.Setting) (Rung, error) {
	e, err := ladder.At(setting)
	if err != nil {
		return Rung{}, err
	}
	b := e.Biased()
	rung := Rung{Evaluation: e, Label: format.Setting(e.Setting, e.Value), Point: b.Point()}
	if rung.Curve, err = b.Curve(beyond*e.ClipLow, beyond*e.ClipHigh, curvePoints); err != nil {
		return Rung{}, err
	}
	span := nearSpan
	if ladder.Stage().HasDriver() {
		span /= max(1, math.Abs(e.GainAtSwing))
	}
	if rung.Near, err = b.Curve(max(-span, e.ClipLow), min(span, e.ClipHigh), curvePoints); err != nil {
		return Rung{}, err
	}
	if err := rung.heat(ladder); err != nil {
		return Rung{}, err
	}
	return rung, rung.limits(ladder)
}

// heat solves a setting's powers and temperatures.
func (r *Rung) heat(ladder *bias.Ladder) error {
	b := r.Biased()
	for level := MinimumLevel; level <= 0; level += levelStep {
		power, err := b.Power(ladder.Drive() * math.Pow(10, float64(level)/20))
		if err != nil {
			return err
		}
		r.Powers = append(r.Powers, power)
	}
	var err error
	if r.Rest, err = r.Settle(ladder.Stage().Conditions(stage.Sine(0))); err != nil {
		return err
	}
	r.Full, err = r.Settle(ladder.Stage().Conditions(stage.Sine(ladder.Drive())))
	return err
}

// Warnings are the refusals and all other limits that are broken.
func (r *Rung) Warnings() []string { return append(r.Refusals(), r.Limits.Broken...) }

// Refusals say why the stage must not be run at this setting.
func (r *Rung) Refusals() []string {
	var list []string
	for _, t := range []bias.Thermal{r.Rest, r.Full} {
		if t.Refusal != "" {
			list = append(list, t.Refusal)
		}
	}
	return list
}
