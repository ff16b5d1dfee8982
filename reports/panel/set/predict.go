package set

import (
	"context"
	"fmt"
	"math"

	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/reports/panel/server"
)

// Predict searches the threshold that the ear model predicts for the materials
// named, at a playback level of a full-scale sine in dB SPL. A material for which
// there is no prediction (no threshold, three channels or more) is left out, with a remark.
func (c *Clips) Predict(ctx context.Context, materials []string, playback level.DB, progress func(done, total int)) (predictions []server.Prediction, remarks []string, err error) {
	var cases []audibility.Case
	for _, name := range materials {
		it, ok := c.items[name]
		if !ok {
			remarks = append(remarks, name+": not in this set: no prediction")
			continue
		}
		if it.Channels > 2 {
			remarks = append(remarks, fmt.Sprintf("%s: no prediction with %d channels; the ear model takes one or two", name, it.Channels))
			continue
		}
		cases = append(cases, c.testCase(name))
	}
	if len(cases) == 0 {
		return nil, remarks, nil
	}
	o := audibility.DefaultOptions(c.lo, c.hi)
	o.Playback, o.Progress = playback, progress
	findings, err := audibility.Run(ctx, cases, o)
	if err != nil {
		return nil, remarks, err
	}
	for _, f := range findings {
		p, remark := c.prediction(f)
		if remark != "" {
			remarks = append(remarks, f.Material+": "+remark)
			continue
		}
		predictions = append(predictions, p)
	}
	return predictions, remarks, nil
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

// prediction turns a finding into a prediction, or says why there is none.
func (c *Clips) prediction(f audibility.Finding) (server.Prediction, string) {
	if f.Error != "" {
		return server.Prediction{}, f.Error
	}
	if f.Threshold == nil {
		return server.Prediction{}, f.Summary
	}
	_, rung, err := c.Rendering(f.Material, f.Threshold.Quiescent)
	if err != nil {
		return server.Prediction{}, err.Error()
	}
	return server.Prediction{
		Material: f.Material, Residual: float64(rung.Residual), Quiescent: f.Threshold.Quiescent, Bias: rung.Bias,
		Method: fmt.Sprintf("ear model of ITU-R BS.1387 at %g dB SPL for a full-scale sine, detection probability %g", math.Round(float64(f.Playback)*10)/10, f.Limit),
	}, ""
}
