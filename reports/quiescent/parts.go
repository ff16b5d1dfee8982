package quiescent

import (
	"errors"
	"math"

	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/parts"
)

// What a person needs to make the current that was chosen: the part that sets it, where
// the stage file as given lies, which resistances the textbook's optimum counts, and what
// else the stage breaks there.

// Parts is what sets the chosen current. Where the stage's own parts do not reach it, or
// there are none, Refusal says so and Others are the stages that would.
type Parts struct {
	Key    string  `json:"key,omitempty"` // in the stage file
	Name   string  `json:"name,omitempty"`
	Unit   string  `json:"unit,omitempty"`
	Value  float64 `json:"value"` // that gives the current
	Series int     `json:"series"`
	// Fixed is the resistor of the series and Trimmer the trimming potentiometer behind
	// it, set to Set in the nominal unit; ohms. Fixed is 0 where the trimmer must reach to
	// nothing. Over the tolerances of the parts and the bench's air the two must reach from
	// Lowest to Highest; Reaches tells that every unit can be set.
	Fixed   float64 `json:"fixed"`
	Trimmer float64 `json:"trimmer"`
	Set     float64 `json:"set"`
	Lowest  float64 `json:"lowest"`
	Highest float64 `json:"highest"`
	Reaches bool    `json:"reaches"`
	// Rises tells that more of the part is more current.
	Rises bool `json:"rises"`
	// Alone is the nearest preferred value without a trimmer, and AloneCurrent what it
	// gives cold, A.
	Alone        float64 `json:"alone"`
	AloneCurrent float64 `json:"alone_a"`
	// Cold and Warm are the currents as built of the stage with these parts, A: with all
	// at its file's air, and settled at rest in it; Warm is nil where it must not be run.
	Cold float64  `json:"cold_a"`
	Warm *float64 `json:"warm_a,omitempty"`
	// Coupling is how closely the bias part follows the sink, Even the coupling with which
	// the warm stage has its cold current, and Least that at which the thermal loop gain is
	// half of what runs away; nil where not even 1 does it.
	Coupling float64  `json:"coupling"`
	Even     *float64 `json:"coupling_even,omitempty"`
	Least    *float64 `json:"coupling_least,omitempty"`

	Refusal string  `json:"refusal,omitempty"`
	Others  []Other `json:"others,omitempty"`

	spec stage.Spec // with these parts
}

// Other is a stage with other parts that has the current.
type Other struct {
	What    string          `json:"what"`
	Changes []parts.Change  `json:"-"`
	Cold    float64         `json:"cold_a"`
	Warm    *float64        `json:"warm_a,omitempty"`
	Gain    float64         `json:"thermal_loop_gain"`
	Values  map[string]Pair `json:"changes"`
}

// Pair is a value of the stage file before and after, nil where there was none.
type Pair struct {
	From *float64 `json:"from,omitempty"`
	To   float64  `json:"to"`
}

// Spec returns the stage with the chosen parts; false where there are none.
func (p *Parts) Spec() (stage.Spec, bool) { return p.spec, p.Refusal == "" }

// choice goes from a current to parts.
func (c *climber) choice(quiescent float64) (*Parts, error) {
	made, err := parts.Choose(c.stage, quiescent, c.options.Parts)
	if errors.Is(err, parts.ErrOutOfReach) {
		others, failed := c.others(quiescent)
		return &Parts{Refusal: err.Error(), Others: others}, failed
	}
	if err != nil {
		return nil, err
	}
	p := &Parts{
		Key: made.Part.Key, Name: made.Part.Name, Unit: string(made.Part.Unit), Value: made.Part.Value, Series: int(c.options.Parts.Series),
		Fixed: made.Fixed, Trimmer: made.Trimmer, Set: made.Set, Lowest: made.Lowest, Highest: made.Highest, Reaches: made.Reaches,
		Rises: (made.Alone > made.Part.Value) == (made.AloneCurrent > made.Wanted),
		Alone: made.Alone, AloneCurrent: made.AloneCurrent, Cold: made.Cold, Warm: known(made.Warm),
		Coupling: made.Coupling.Given, Even: known(made.Coupling.Even), Least: known(made.Coupling.Least),
		spec: made.Spec,
	}
	return p, nil
}

// known is a pointer to a number; nil for none.
func known(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// others are the stages with other parts that have a current.
func (c *climber) others(quiescent float64) ([]Other, error) {
	found, err := parts.Remedies(c.stage, quiescent)
	if err != nil {
		return nil, err
	}
	var list []Other
	for _, f := range found {
		o := Other{What: f.What, Changes: f.Changes, Cold: f.Cold, Warm: known(f.Warm), Gain: f.Feedback, Values: map[string]Pair{}}
		for _, change := range f.Changes {
			o.Values[change.Key] = Pair{known(change.From), change.To}
		}
		list = append(list, o)
	}
	return list, nil
}

// Built is where the stage file as given lies.
type Built struct {
	// Quiescent is its current, cold, and Warm when it has settled at rest in its own air,
	// A; Warm is nil where it must not be run.
	Quiescent float64  `json:"quiescent_a"`
	Warm      *float64 `json:"warm_a,omitempty"`
}

// asBuilt evaluates the stage as given.
func (c *climber) asBuilt() (*Built, error) {
	e, err := c.ladder.At(stage.AsBuilt())
	if err != nil {
		return nil, nil // it was solved for its drive, or there is none of that either
	}
	t, err := e.Settle(c.stage.Conditions(stage.Sine(0)))
	if err != nil {
		return nil, err
	}
	b := &Built{Quiescent: e.Quiescent}
	if t.Settles() {
		b.Warm = &t.Quiescent
	}
	return b, nil
}

// Resistance is one that the emitter of an output device sees.
type Resistance struct {
	Name    string  `json:"name"`
	Ohms    float64 `json:"ohm"`
	Counted bool    `json:"counted"` // by the textbook's optimum
}

// counted lists the resistances that the textbook's optimum counts, kT/q over their sum,
// and those at the base, which work divided by the current gain and are not counted.
func counted(st *stage.Stage) []Resistance {
	if st.OptimumQuiescent() == 0 {
		return nil
	}
	s := st.Spec()
	mean := func(of func(t *circuits.Transistor) float64) float64 { return (of(&s.Upper) + of(&s.Lower)) / 2 }
	list := []Resistance{
		{"emitter resistor", s.Emitter.Ohms, true},
		{"inside the emitter", mean(func(t *circuits.Transistor) float64 { return t.EmitterOhms }), true},
	}
	if gain := mean(func(t *circuits.Transistor) float64 { return t.ForwardGain }); gain > 0 {
		list = append(list, Resistance{
			"base and signal source, over the current gain",
			(mean(func(t *circuits.Transistor) float64 { return t.BaseOhms }) + s.Source.Ohms) / (1 + gain), false,
		})
	}
	return list
}
