package quiescent

import (
	"fmt"
	"math"
	"slices"

	"quietcross/corpus/bias"
	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// Tone is what a stage makes of steady tones of one peak.
type Tone struct {
	Level level.DB `json:"level_db"`
	THD   float64  `json:"thd"`
	// WeightedTHD is that of 400 Hz through the network of ITU-R BS.468-4.
	WeightedTHD float64 `json:"weighted_thd"`
	// Modulation and Difference are the intermodulation of IEC 60268-3, second
	// and third order together as amplitudes.
	Modulation float64 `json:"modulation"`
	Difference float64 `json:"difference"`
	// ByFrequency is the THD at each of [Frequencies].
	ByFrequency []AtFrequency `json:"by_frequency"`
}

// AtFrequency is the THD of a tone of a frequency, Hz.
type AtFrequency struct {
	Hertz float64 `json:"frequency_hz"`
	THD   float64 `json:"thd"`
}

// Frequencies are those that distortion is compared at, Hz: coupling capacitors and
// transformers work hardest at the first, an amplifier in a loop has least to give at the
// last.
var Frequencies = []float64{100, bias.FigureFrequency, 10e3}

// Rung is one quiescent current and all that it costs.
type Rung struct {
	// Quiescent is the current set, with all junctions at the stage file's
	// ambient temperature, A; 0 stands for no bias at all.
	Quiescent float64 `json:"quiescent_a"`
	Bias      float64 `json:"bias_v"`
	// EmitterVolts stands across each emitter resistor, V, the mean of both.
	EmitterVolts float64 `json:"emitter_v"`

	Tones []Tone `json:"tones"`
	// Distortion is the mean of the THD at all levels and frequencies: an under-biased
	// stage is worst at the lowest level, an over-biased one at the highest.
	Distortion float64 `json:"thd_mean"`
	// Heard is the prediction on every piece at every level; nil where it was not
	// asked for.
	Heard []Heard `json:"heard,omitempty"`
	// Use is what the stage comes to in use and what is predicted of that; nil where it does
	// not settle, or where no prediction reaches.
	Use *Use `json:"in_use,omitempty"`

	// ClassA is the maximum sine power into the load for which both devices
	// conduct all the time, W: the swing of the load's current that the quiescent
	// current allows, by the textbook's straight hand-over.
	ClassA float64 `json:"class_a_w"`

	// Rest is with no signal at the stage file's ambient temperature; but for Playing and
	// ColdAir the others are in the hottest air: with no signal, with the material at its loudest
	// level, and with the sine that heats most.
	Rest       bias.Thermal `json:"rest"`
	Playing    bias.Thermal `json:"playing"` // with the material at its loudest level, in the stage file's own air
	Idle       bias.Thermal `json:"idle"`
	Programme  bias.Thermal `json:"programme"`
	Sine       bias.Thermal `json:"sine"`
	ColdAir    bias.Thermal `json:"cold_air"` // with no signal in the coldest air
	HourJoules float64      `json:"hour_j"`   // drawn in an hour of the material, at the stage file's ambient temperature

	// Breaks are the limits of heat that are not met, all of them.
	Breaks []Binding `json:"breaks,omitempty"`

	// Refusal says why there is nothing else: no such operating point.
	Refusal string `json:"refusal,omitempty"`
}

// Worst is the prediction for the piece that is heard most, stage cold.
func (r *Rung) Worst() (Heard, bool) {
	if len(r.Heard) == 0 {
		return Heard{}, false
	}
	return worst(r.Heard), true
}

// Drift is the range of the quiescent current in use over what was set: the minimum
// and maximum of cold air at rest, hot air at rest, hot air with the material and, where it
// was worked out, the quiet after a loud passage.
func (r *Rung) Drift() (low, high float64) {
	if r.Quiescent == 0 {
		return 1, 1
	}
	all := []float64{r.ColdAir.Quiescent, r.Idle.Quiescent, r.Programme.Quiescent}
	if r.Use != nil && r.Use.Quiet > 0 {
		all = append(all, r.Use.Quiet)
	}
	low, high = math.Inf(1), 0
	for _, q := range all {
		low, high = min(low, q/r.Quiescent), max(high, q/r.Quiescent)
	}
	return low, high
}

// A climber evaluates rungs of one stage.
type climber struct {
	options *Options
	bench   *render.Bench
	session *audibility.Session // of the material, searched over the sweep
	stage   *stage.Stage
	ladder  *bias.Ladder // of the stage
	music   stage.Signal // the material at its loudest level
	swing   float64      // maximum load current in class A an ampere of quiescent current

	currents  []float64 // of the sweep but for none, A
	low, high float64   // the first and the last of them
	most      float64   // the maximum that the bias parts reach, A

	devices int     // how many output devices there are
	classA  float64 // the current of class A up to the drive, A

	sinePeak float64 // of the sine that heats the chosen rung most, V; units share it
}

// rung evaluates one current, but for what is heard.
func (c *climber) rung(quiescent float64) Rung {
	r := Rung{Quiescent: quiescent}
	for _, part := range []func(*Rung) error{c.distortion, c.heat} {
		if err := part(&r); err != nil {
			return Rung{Quiescent: quiescent, Refusal: err.Error()}
		}
	}
	r.Breaks = c.breaks(&r)
	return r
}

// distortion fills in what the stage with cold junctions does to tones.
func (c *climber) distortion(r *Rung) error {
	e, err := c.harmonics(r)
	if err != nil {
		return err
	}
	for i := range r.Tones {
		two, err := e.TwoTone(c.ladder.Drive() * r.Tones[i].Level.Amplitude())
		if err != nil {
			return err
		}
		r.Tones[i].Modulation = math.Hypot(two.Modulation2, two.Modulation3)
		r.Tones[i].Difference = math.Hypot(two.Difference2, two.Difference3)
	}
	return nil
}

// harmonics fills in all but intermodulation, and returns the evaluation.
func (c *climber) harmonics(r *Rung) (*bias.Evaluation, error) {
	e, err := c.ladder.At(bias.Current(r.Quiescent))
	if err != nil {
		return nil, err
	}
	r.Bias = e.Bias
	r.EmitterVolts = e.Quiescent * c.stage.Spec().Emitter.Ohms
	r.ClassA = classAPower(r.Quiescent*c.swing, c.stage.Spec().Load.Ohms)
	for _, l := range c.options.ToneLevels {
		tones, err := e.Tones(append(slices.Clone(Frequencies), bias.WeightedFrequency), c.ladder.Drive()*l.Amplitude())
		if err != nil {
			return nil, err
		}
		tone := Tone{Level: l, THD: tones[1].THD, WeightedTHD: tones[len(Frequencies)].WeightedTHD()}
		for _, t := range tones[:len(Frequencies)] {
			tone.ByFrequency = append(tone.ByFrequency, AtFrequency{t.Frequency, t.THD})
			r.Distortion += t.THD / float64(len(Frequencies)*len(c.options.ToneLevels))
		}
		r.Tones = append(r.Tones, tone)
	}
	return e, nil
}

// heat fills in temperatures and powers.
func (c *climber) heat(r *Rung) error {
	e, err := c.ladder.At(bias.Current(r.Quiescent))
	if err != nil {
		return err
	}
	peak, err := e.HottestSine()
	if err != nil {
		return err
	}
	ambient, limits := c.stage.Spec().Thermal.Ambient, c.options.Limits
	for _, look := range []struct {
		into   *bias.Thermal
		air    float64
		signal stage.Signal
	}{
		{&r.Rest, ambient, stage.Sine(0)},
		{&r.Playing, ambient, c.music},
		{&r.ColdAir, limits.Coldest, stage.Sine(0)},
		{&r.Idle, limits.Hottest, stage.Sine(0)},
		{&r.Programme, limits.Hottest, c.music},
		{&r.Sine, limits.Hottest, stage.Sine(peak)},
	} {
		*look.into, err = e.Settle(stage.Conditions{Air: look.air, Maximum: limits.Junction, Signal: look.signal})
		if err != nil {
			return fmt.Errorf("air at %.0f K: %w", look.air, err)
		}
	}
	r.HourJoules = 3600 * r.Playing.Supply
	return nil
}
