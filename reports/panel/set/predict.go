package set

import (
	"context"
	"fmt"
	"math"

	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/reports/panel/server"
)

// A Want is a prediction that is asked for: of a material whose answers were given to a
// stimulus, at a playback level of a full-scale sine in dB SPL, 20 to 110.
type Want struct {
	Material, Stimulus string
	Playback           level.DB
}

// Predict searches the thresholds and grades that the ear model predicts. A material
// that is not in this set, or is there with another stage, drive or source than it was
// heard with, or for which there is no prediction (three channels or more), is left out,
// with a remark.
func (c *Clips) Predict(ctx context.Context, wants []Want, progress func(done, total int)) (predictions []server.Prediction, remarks []string, err error) {
	for i, want := range wants {
		p, remark, err := c.predictOne(ctx, want)
		switch {
		case err != nil:
			return nil, remarks, err
		case remark != "":
			remarks = append(remarks, want.Material+": "+remark)
		}
		if p != nil {
			predictions = append(predictions, *p)
		}
		if progress != nil {
			progress(i+1, len(wants))
		}
	}
	return predictions, remarks, nil
}

// predictOne is [Clips.Predict] of one material.
func (c *Clips) predictOne(ctx context.Context, want Want) (p *server.Prediction, remark string, err error) {
	it, ok := c.items[want.Material]
	if !ok {
		return nil, "not in this set: no prediction", nil
	}
	if it.Channels > 2 {
		return nil, fmt.Sprintf("no prediction with %d channels; the ear model takes one or two", it.Channels), nil
	}
	stimulus, err := c.Stimulus(want.Material)
	if err != nil {
		return nil, "", err
	}
	if stimulus != want.Stimulus {
		return nil, "the answers were given to another stage, drive or source than this set has: no prediction", nil
	}
	o := audibility.DefaultOptions(c.lo, c.hi)
	o.Heard.Playback = want.Playback
	findings, err := audibility.Run(ctx, []audibility.Case{c.testCase(want.Material)}, o)
	if err != nil {
		return nil, "", err
	}
	made, remark := c.prediction(findings[0])
	if made != nil {
		made.Stimulus = stimulus
	}
	return made, remark, nil
}

// testCase is a material as a case of the ear model: the clips that listeners
// hear.
func (c *Clips) testCase(name string) audibility.Case {
	return audibility.Case{Material: name, Open: func(context.Context) ([][]float64, audibility.Render, error) {
		rate, reference, err := c.Reference(name)
		if err != nil {
			return nil, nil, err
		}
		reference, err = audibility.ToEarRate(reference, rate)
		return reference, func(_ context.Context, quiescent float64) (audibility.Rendering, error) {
			audio, rung, err := c.Rendering(name, quiescent)
			if err != nil {
				return audibility.Rendering{}, err
			}
			audio, err = audibility.ToEarRate(audio, rate)
			return audibility.Rendering{Test: audio, Bias: rung.Bias}, err
		}, err
	}}
}

// prediction turns a finding into a prediction; a remark says what it lacks.
func (c *Clips) prediction(f audibility.Finding) (*server.Prediction, string) {
	if f.Error != "" {
		return nil, f.Error
	}
	p := &server.Prediction{
		Material: f.Material, Playback: f.Heard.Playback, Residual: math.NaN(), Quiescent: math.NaN(), Bias: math.NaN(),
		Method: fmt.Sprintf("detection model for %s, noticed with probability %g", f.Heard, f.Limit),
	}
	for _, at := range f.Curve {
		if at.Standard != nil && at.Standard.Grade != nil {
			p.Grades = append(p.Grades, server.PredictedGrade{Quiescent: at.Quiescent, Grade: 5 + *at.Standard.Grade})
		}
	}
	if f.Threshold == nil {
		return p, f.Summary
	}
	_, rung, err := c.Rendering(f.Material, f.Threshold.Quiescent)
	if err != nil {
		return nil, err.Error()
	}
	p.Residual, p.Quiescent, p.Bias = float64(rung.Residual), f.Threshold.Quiescent, rung.Bias
	return p, ""
}
