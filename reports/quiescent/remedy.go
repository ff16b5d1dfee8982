package quiescent

import (
	"context"
	"fmt"
	"math"
	"slices"

	"quietcross/corpus/bias"
	"quietcross/reports/view/format"
	"quietcross/stage"
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
	// For are the limits that it is to meet.
	For []Binding `json:"for,omitempty"`
	// Quiescent is the current at which it was tried, A.
	Quiescent float64 `json:"quiescent_a"`
	// Works tells that all limits are met there then.
	Works bool `json:"works"`
	// Detection is the worst probability then; Known whether it was computed.
	Detection float64 `json:"detection"`
	Heard     bool    `json:"heard"`
	// Note says in words what was found.
	Note string `json:"note"`

	part bool // it meets the limits it is for, and not all
}

// binds are all limits that leave no current: that of hearing, in use alone where there are
// currents that meet it cold, and those of heat that are broken at what hearing asks for, or
// before any current is allowed.
func (c *climber) binds(r *Recommendation, result *Result) []Binding {
	if r.MarginKnown && c.options.Library == nil && len(c.coldOnly(r, result)) > 0 {
		return []Binding{BindsUse}
	}
	list := []Binding{BindsHearing}
	for _, ceiling := range r.Ceilings {
		if ceiling.Maximum == 0 || r.MarginKnown && ceiling.Maximum < nudged*r.Margin {
			list = append(list, ceiling.Limit)
		}
	}
	return list
}

// remedies tries, one by one, what could make room between what hearing asks for and the
// maximum current; for each limit of heat by itself where one change does not meet all of
// them, and then all that helped together.
func (c *climber) remedies(ctx context.Context, r Recommendation, result *Result) ([]Remedy, error) {
	if slices.Contains(r.Binds, BindsUse) {
		return c.steadier(&r, result)
	}
	list, err := c.reach(&r)
	if err != nil {
		return nil, err
	}
	if !r.MarginKnown {
		more, err := c.quieter(ctx, r)
		return append(list, more...), err
	}
	at := max(nudged*r.Margin, c.low)
	rung := c.rung(at)
	spec := c.stage.Spec()
	for _, try := range changes(spec) {
		tried, err := c.tryAll(ctx, Remedy{Key: try.key, Unit: try.unit, Quiescent: at, From: *try.field(&spec)}, try, rung.Breaks)
		if err != nil {
			return nil, err
		}
		list = append(list, tried...)
	}
	if slices.Contains(rung.Breaks, BindsIdle) {
		idle, err := c.idleRemedy(at)
		if err != nil {
			return nil, err
		}
		list = append(list, idle)
	}
	if slices.Contains(rung.Breaks, BindsJunction) {
		list = append(list, c.junctionRemedy(&rung))
	}
	if len(rung.Breaks) > 1 {
		list = append(list, c.together(list, rung.Breaks, at)...)
	}
	feedback, err := c.feedbackRemedy(ctx, r)
	return append(list, feedback), err
}

// reach tells what other parts would do where the stage's own end before a current that
// meets all limits.
func (c *climber) reach(r *Recommendation) ([]Remedy, error) {
	i := slices.IndexFunc(r.Ceilings, func(l Ceiling) bool { return l.Limit == BindsCircuit })
	at := max(nudged*r.Margin, r.Optimum)
	if i < 0 || at <= r.Ceilings[i].Maximum {
		return nil, nil
	}
	others, err := c.others(at)
	var list []Remedy
	for _, o := range others {
		for _, change := range o.Changes {
			list = append(list, Remedy{
				Key: change.Key, From: or(change.From, 0), To: change.To, Unit: string(change.Unit), Quiescent: at,
				For: []Binding{BindsCircuit}, Note: o.What + ": the current is then reached",
			})
		}
	}
	return list, err
}

// or is a number, or another where it is none.
func or(v, other float64) float64 {
	if math.IsNaN(v) {
		return other
	}
	return v
}

// tryAll tries a change for all limits that are broken and, where it does not meet them,
// for each by itself.
func (c *climber) tryAll(ctx context.Context, remedy Remedy, try change, broken []Binding) ([]Remedy, error) {
	whole := remedy
	whole.For = broken
	if err := c.try(ctx, &whole, try); err != nil {
		return nil, err
	}
	whole.Note = try.note + noteOf(&whole, c.options.Limits.Detection)
	if whole.Works || whole.Heard || len(broken) < 2 {
		return []Remedy{whole}, nil
	}
	var list []Remedy
	for _, limit := range broken {
		alone := remedy
		alone.For = []Binding{limit}
		if err := c.try(ctx, &alone, try); err != nil {
			return nil, err
		}
		if alone.Works {
			alone.Works, alone.part = false, true
			alone.Note = fmt.Sprintf("%s: meets the limit of %s at that current, and not the others", try.note, limit)
			list = append(list, alone)
		}
	}
	if len(list) == 0 {
		return []Remedy{whole}, nil
	}
	return list, nil
}

// together applies the first change that helps with each broken limit, all at once.
func (c *climber) together(tried []Remedy, broken []Binding, at float64) []Remedy {
	spec := c.stage.Spec()
	limits := c.options.Limits
	all := Remedy{Key: "together", Quiescent: at, For: broken}
	names := ""
	for _, limit := range broken {
		i := slices.IndexFunc(tried, func(r Remedy) bool {
			return (r.part || r.Key == idleKey || r.Key == junctionKey) && slices.Contains(r.For, limit)
		})
		if i < 0 {
			return nil
		}
		if names != "" {
			names += " and "
		}
		if tried[i].Key == idleKey {
			limits.Idle = new(tried[i].To)
			names += "a limit of idle power of " + format.Quantity(tried[i].To, "W")
			continue
		}
		if tried[i].Key == junctionKey {
			limits.Junction = tried[i].To
			names += "devices for a junction temperature of " + celsius(tried[i].To)
			continue
		}
		for _, try := range changes(spec) {
			if try.key == tried[i].Key {
				*try.field(&spec) = tried[i].To
			}
		}
		names += fmt.Sprintf("%s of %s", tried[i].Key, value(tried[i].To, tried[i].Unit))
	}
	all.Works = c.meetsWith(spec, limits, at, nil)
	all.Note = names + noteOf(&all, c.options.Limits.Detection)
	return []Remedy{all}
}

// meetsWith tells whether a stage meets limits of heat at a current; all of them where
// only is empty.
func (c *climber) meetsWith(spec stage.Spec, limits Limits, quiescent float64, only []Binding) bool {
	other, err := c.with(spec)
	if err != nil {
		return false
	}
	options := *c.options
	options.Limits = limits
	other.options = &options
	rung := Rung{Quiescent: quiescent}
	if err := other.heat(&rung); err != nil {
		return false
	}
	broken := other.breaks(&rung)
	if len(only) == 0 {
		return len(broken) == 0
	}
	return !slices.ContainsFunc(broken, func(b Binding) bool { return slices.Contains(only, b) })
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
		{"thermal.sink_to_air", "K/W", func(s *stage.Spec) *float64 { return &s.Thermal.SinkToAir }, smallestSink, false, "larger sink"},
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
	case r.Heard:
		return ": meets the limits of heat, and that of audibility without its margin"
	}
	return ": does not help at any value looked at"
}

// remedyTolerance is how near to its minimum change a remedy is closed in on.
const remedyTolerance = 0.02

// try bisects for the minimum change of a part value, between what it is and a
// limit, with which the limits that the remedy is for are met at its current.
func (c *climber) try(ctx context.Context, r *Remedy, try change) error {
	changed := func(value float64) stage.Spec {
		spec := c.stage.Spec()
		*try.field(&spec) = value
		return spec
	}
	meets := func(value float64) bool { return c.meetsWith(changed(value), c.options.Limits, r.Quiescent, r.For) }
	r.To = try.limit
	if r.From == try.limit || !meets(try.limit) {
		return nil
	}
	r.To, r.Works = minimumChange(r.From, try.limit, meets), true
	if !try.audible {
		return nil
	}
	return c.judge(ctx, r, changed(r.To))
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
	r.Works = r.Works && worst(heard).DPrime <= c.options.under()
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

// junctionKey names the limit of junction temperature where a remedy changes it.
const junctionKey = "limit of junction temperature"

// junctionRemedy says what the devices would have to stand: the hottest junction of a rung,
// and a tolerance more.
func (c *climber) junctionRemedy(r *Rung) Remedy {
	hottest := max(r.Sine.Junction, r.Programme.Junction, r.Idle.Junction)
	air := c.options.Limits.Hottest
	return Remedy{
		Key: junctionKey, For: []Binding{BindsJunction}, From: c.options.Limits.Junction, To: air + (hottest-air)*(1+currentTolerance), Unit: "K", Quiescent: r.Quiescent,
		Works: len(r.Breaks) == 1 && !r.Sine.Runaway() && !r.Idle.Runaway(),
		Note:  "devices that stand more, or of less thermal resistance: this is what the hottest junction comes to in the hottest air",
	}
}

// idleKey names the limit of idle power where a remedy changes it.
const idleKey = "limit of idle power"

// idleRemedy says what the limit of idle power would have to be: what is drawn at a
// current over the one asked for by the tolerance to which the maximum is found.
func (c *climber) idleRemedy(quiescent float64) (Remedy, error) {
	rung := Rung{Quiescent: quiescent * (1 + currentTolerance)}
	if err := c.heat(&rung); err != nil {
		return Remedy{}, err
	}
	return Remedy{
		Key: idleKey, For: []Binding{BindsIdle}, From: *c.options.Limits.Idle, To: rung.Idle.Supply, Unit: "W", Quiescent: quiescent,
		Works: len(c.breaks(&rung)) == 1,
		Note:  "a higher limit of idle power, or lower rails: this is what the stage draws at rest in the hottest air",
	}, nil
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
			Key: "emitter.resistance", For: []Binding{BindsHearing}, Unit: "ohm", From: c.stage.Spec().Emitter.Ohms, To: spec.Emitter.Ohms,
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
