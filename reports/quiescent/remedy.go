package quiescent

import (
	"context"
	"math"
	"slices"

	"quietcross/corpus/bias"
	"quietcross/stage"
	"quietcross/stage/circuits"
)

// Remedy is one change of the stage that was tried because no current meets all
// limits, and what came of it.
type Remedy struct {
	// Key is the stage file's key that is changed, or what else is; From and To its
	// values in Unit.
	Key  string  `json:"key"`
	From float64 `json:"from"`
	To   float64 `json:"to"`
	Unit string  `json:"unit"`
	// Quiescent is the current at which it was tried, A.
	Quiescent float64 `json:"quiescent_a"`
	// Works tells that all limits are met there then.
	Works bool `json:"works"`
	// Detection is the worst probability then; Known whether it was computed.
	Detection float64 `json:"detection"`
	Heard     bool    `json:"heard"`
	// Note says in words what was found.
	Note string `json:"note"`
}

// remedies tries, one by one, what could make room between the minimum and the
// maximum current.
func (c *climber) remedies(ctx context.Context, r Recommendation) ([]Remedy, error) {
	if !r.MinimumKnown {
		return c.quieter(ctx, r)
	}
	at := r.Minimum
	if at == 0 {
		at = c.low
	}
	var list []Remedy
	spec := c.stage.Spec()
	for _, try := range changes(spec) {
		remedy := Remedy{Key: try.key, Unit: try.unit, Quiescent: at, From: *try.field(&spec)}
		if err := c.try(ctx, &remedy, try.field, try.limit, try.audible); err != nil {
			return nil, err
		}
		remedy.Note = try.note + noteOf(&remedy, c.options.Limits.Detection)
		list = append(list, remedy)
	}
	if r.MaximumBy == BindsIdle {
		idle, err := c.idleRemedy(at)
		if err != nil {
			return nil, err
		}
		list = append(list, idle)
	}
	feedback, err := c.feedbackRemedy(ctx, r)
	return append(list, feedback), err
}

// change is a part value that is moved towards a limit.
type change struct {
	key, unit string
	field     func(*stage.Spec) *float64
	limit     float64
	audible   bool // it can alter what is heard
	note      string
}

// changes are those that are tried: a sink as large as can be, a bias part that has
// its temperature, and emitter resistors of up to ten times what they are, or 1 ohm.
func changes(spec stage.Spec) []change {
	return []change{
		{"thermal.sink_to_air", "K/W", func(s *stage.Spec) *float64 { return &s.Thermal.SinkToAir }, 0.01, false, "larger sink"},
		{"thermal.coupling", "", func(s *stage.Spec) *float64 { return &s.Thermal.Coupling }, 1, false, "closer coupling of the bias part to the sink"},
		{"emitter.resistance", "ohm", func(s *stage.Spec) *float64 { return &s.Emitter.Ohms }, 10 * max(spec.Emitter.Ohms, 0.1), true, "larger emitter resistors"},
	}
}

// noteOf says what came of a remedy.
func noteOf(r *Remedy, limit float64) string {
	switch {
	case r.Works:
		return ": meets all limits at that current"
	case r.Heard && r.Detection > limit:
		return ": meets the limits of heat, and is then predicted audible at that current"
	}
	return ": does not help at any value looked at"
}

// remedyTolerance is how near to its minimum change a remedy is closed in on.
const remedyTolerance = 0.02

// try bisects for the minimum change of a part value, between what it is and a
// limit, with which the thermal limits are met at the remedy's current.
func (c *climber) try(ctx context.Context, r *Remedy, field func(*stage.Spec) *float64, limit float64, audible bool) error {
	from := r.From
	meets := func(value float64) bool {
		spec := c.stage.Spec()
		*field(&spec) = value
		other, err := c.with(spec)
		if err != nil {
			return false
		}
		rung := Rung{Quiescent: r.Quiescent}
		if err := other.heat(&rung); err != nil {
			return false
		}
		return other.meets(&rung) == BindsNothing
	}
	r.To = limit
	if from == limit || !meets(limit) {
		return nil
	}
	good := minimumChange(from, limit, meets)
	r.To, r.Works = good, true
	if !audible {
		return nil
	}
	spec := c.stage.Spec()
	*field(&spec) = good
	return c.judge(ctx, r, spec)
}

// minimumChange bisects between a value that does not meet the limits and one that
// does, for one that does and lies near to the former.
func minimumChange(bad, good float64, meets func(value float64) bool) float64 {
	for math.Abs(good-bad) > remedyTolerance*math.Abs(good) {
		middle := (bad + good) / 2
		if meets(middle) {
			good = middle
		} else {
			bad = middle
		}
	}
	return good
}

// judge predicts what is heard with a changed stage at the remedy's current.
func (c *climber) judge(ctx context.Context, r *Remedy, spec stage.Spec) error {
	bench, err := c.options.bench(spec)
	if err != nil {
		return err
	}
	heard, err := c.options.hear(ctx, bench, r.Quiescent)
	if err != nil {
		return err
	}
	r.Detection, r.Heard = worst(heard).Detection, true
	r.Works = r.Works && r.Detection <= c.options.Limits.Detection
	return nil
}

// with returns a climber for a changed stage on the same material.
func (c *climber) with(spec stage.Spec) (*climber, error) {
	other := *c
	var err error
	if other.stage, err = stage.New(spec); err != nil {
		return nil, err
	}
	other.ladder, err = bias.NewLadder(other.stage, new(c.ladder.Drive()))
	return &other, err
}

// idleRemedy says what the limit of idle power would have to be: what is drawn at a
// current over the one asked for by the tolerance to which the maximum is found.
func (c *climber) idleRemedy(quiescent float64) (Remedy, error) {
	rung := Rung{Quiescent: quiescent * (1 + safeTolerance)}
	if err := c.heat(&rung); err != nil {
		return Remedy{}, err
	}
	return Remedy{
		Key: "limit of idle power", From: *c.options.Limits.Idle, To: rung.Idle.Supply, Unit: "W", Quiescent: quiescent,
		Works: !rung.Idle.Runaway() && rung.Sine.Junction <= c.options.Limits.Junction,
		Note:  "a higher limit of idle power, or lower rails: this is what the stage draws at rest in the hottest air",
	}, nil
}

// feedbackRemedy tries more feedback around the output devices, at the maximum
// current that heat allows, in a circuit that can have it.
func (c *climber) feedbackRemedy(ctx context.Context, r Recommendation) (Remedy, error) {
	spec := c.stage.Spec()
	remedy := Remedy{Key: "feedback.gain", From: spec.Feedback.Gain, Quiescent: r.Maximum}
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
	r.Works = r.Detection <= c.options.Limits.Detection
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

// otherEmitters are the emitter resistors to try in place of those there are: half and
// twice as large; none where there are none.
func otherEmitters(ohms float64) []float64 {
	if ohms == 0 {
		return nil
	}
	return []float64{ohms / 2, ohms * 2}
}

// quieter tries emitter resistors for a stage that is predicted audible at every
// current.
func (c *climber) quieter(ctx context.Context, r Recommendation) ([]Remedy, error) {
	var list []Remedy
	for _, ohms := range otherEmitters(c.stage.Spec().Emitter.Ohms) {
		spec := c.stage.Spec()
		spec.Emitter.Ohms = ohms
		st, err := stage.New(spec)
		if err != nil {
			continue // beyond what is legal
		}
		remedy := Remedy{
			Key: "emitter.resistance", Unit: "ohm", From: c.stage.Spec().Emitter.Ohms, To: spec.Emitter.Ohms,
			Quiescent: min(st.OptimumQuiescent(), c.high), Works: true,
		}
		if err := c.judge(ctx, &remedy, spec); err != nil {
			return nil, err
		}
		remedy.Note = "other emitter resistors, at their optimum bias" + noteOf(&remedy, c.options.Limits.Detection)
		list = append(list, remedy)
	}
	feedback, err := c.feedbackRemedy(ctx, r)
	return append(list, feedback), err
}
