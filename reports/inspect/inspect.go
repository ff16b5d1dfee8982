// Package inspect shows a biased stage before anything is rendered through it:
// operating point, crossover, gain and clipping, as a table, as JSON and as a
// picture.
package inspect

import (
	"errors"
	"math"

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
	// Inverts tells that the output falls while the input rises.
	Inverts bool
}

// Rung is the stage at one setting.
type Rung struct {
	stage.Inspection
	Warmth
	// Label names the setting, "73.4 mA".
	Label string
	// Near is the transfer curve around the crossover.
	Near []stage.Sample

	setting stage.Setting
	trimmed stage.Spec
}

// Look solves the stage at each setting. There must be at least one.
func Look(spec stage.Spec, settings []stage.Setting) (*Inspection, error) {
	if len(settings) == 0 {
		return nil, errors.New("no bias setting to inspect")
	}
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	look := &Inspection{Spec: spec, Inverts: st.Inverts()}
	for _, setting := range settings {
		rung, err := lookAt(st, setting)
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

func lookAt(st *stage.Stage, setting stage.Setting) (Rung, error) {
	biased, err := st.Set(setting)
	if err != nil {
		return Rung{}, err
	}
	rung := Rung{setting: setting, trimmed: biased.Trimmed(), Label: format.Setting(setting.Mode(), setting.Value())}
	if rung.Inspection, err = biased.Inspect(curvePoints); err != nil {
		return Rung{}, err
	}
	if rung.Warmth, err = warmth(st, setting, biased); err != nil {
		return Rung{}, err
	}
	span := nearSpan
	if st.HasDriver() {
		span /= max(1, math.Abs(rung.GainFull))
	}
	rung.Near, err = biased.Curve(max(-span, rung.ClipLow), min(span, rung.ClipHigh), curvePoints)
	return rung, err
}
