package quiescent

import (
	"context"
	"slices"

	"quietcross/stage"
	"quietcross/stage/circuits"
)

// Feedback as a remedy: the least loop gain, of some that are tried, under which a current
// meets the limits that were broken.

// feedbackRemedy tries more feedback around the output devices, at the maximum
// current that heat allows, in a circuit that can have it.
func (c *climber) feedbackRemedy(ctx context.Context, r Recommendation) (Remedy, error) {
	spec := c.stage.Spec()
	remedy := Remedy{Key: "feedback.gain", For: []Binding{BindsHearing}, From: spec.Feedback.Gain, Quiescent: r.Maximum}
	if spec.Driver.Fitted {
		remedy.Note = "this circuit's own driver drives the output stage; compare one with an amplifier and a loop in its place"
		return remedy, nil
	}
	if !takesFeedback(spec) {
		remedy.Note = "this circuit has no loop around the output devices to tighten; compare one that has"
		return remedy, nil
	}
	if r.Maximum == 0 {
		remedy.Note = "more feedback does not cool: no current meets the limits of heat"
		return remedy, nil
	}
	for _, spec.Feedback.Gain = range feedbackGains(spec.Feedback.Gain) {
		if err := c.judgeFeedback(ctx, &remedy, spec); err != nil {
			remedy.Note = "more feedback: " + err.Error()
			return remedy, ctx.Err()
		}
		if remedy.Works {
			break
		}
	}
	remedy.Note = "more feedback around the output devices, at the maximum current that heat allows" + noteOf(&remedy, c.options.Limits.Detection)
	return remedy, nil
}

// judgeFeedback predicts what is heard of a stage with other feedback. The
// amplifier has gain, so that full scale is another voltage: the stage's own.
func (c *climber) judgeFeedback(ctx context.Context, r *Remedy, spec stage.Spec) error {
	changed := *c.options
	changed.Drive = nil
	bench, err := changed.bench(spec)
	if err != nil {
		return err
	}
	heard, err := changed.hear(ctx, bench, r.Quiescent)
	if err != nil {
		return err
	}
	r.To, r.Detection, r.Heard = spec.Feedback.Gain, worst(heard).Detection, true
	r.Works = worst(heard).DPrime <= c.options.under()
	return nil
}

// How much feedback is tried: some times the open-loop gain there is, and at least
// that of a modest amplifier, step by step.
const (
	feedbackStep    = 10
	minimumFeedback = 1000
	feedbackTries   = 3
)

// feedbackGains are the open-loop gains to try, one after the other.
func feedbackGains(have float64) []float64 {
	list := []float64{max(have*feedbackStep, minimumFeedback)}
	for len(list) < feedbackTries {
		list = append(list, list[len(list)-1]*feedbackStep)
	}
	return list
}

// takesFeedback tells whether a circuit can have an amplifier with a loop around
// the output devices.
func takesFeedback(spec stage.Spec) bool {
	kind, err := circuits.Lookup(spec.Circuit)
	if err != nil {
		return false
	}
	return slices.ContainsFunc(kind.Groups(&spec.Parts), func(g circuits.Group) bool { return g.Name == "feedback" })
}
