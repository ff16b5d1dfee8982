package survey

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 1

// Result is a survey: its conditions, what it says, and every recording.
type Result struct {
	Schema  int    `json:"schema"`
	Program string `json:"program"`
	Version string `json:"version"`
	Head
	// Part is "K/N" where a part alone was surveyed, "" for a whole library.
	Part string `json:"part,omitempty"`
	// Distributions hold the answer, one a stage, and Comparisons each later stage
	// against the first.
	Distributions []Distribution `json:"distributions"`
	Comparisons   []Comparison   `json:"comparisons,omitempty"`
	// Warnings are sentences about the whole.
	Warnings []string `json:"warnings,omitempty"`
	// Recordings are those that were heard, Refused those that could not be, with the
	// reason, and Missing those that the library holds and no part has worked on. All are
	// in order of their names.
	Recordings []Recording `json:"recordings"`
	Refused    []Refusal   `json:"refused,omitempty"`
	Missing    []string    `json:"missing,omitempty"`
}

// Head is what a survey was made under.
type Head struct {
	Excerpts []Kind `json:"excerpts"`
	// Length of an excerpt, s.
	Length   float64            `json:"length_s"`
	Seed     uint64             `json:"seed"`
	Volume   Volume             `json:"volume"`
	Level    level.DB           `json:"level_db"`
	Loudness level.DB           `json:"loudness_lufs"`
	Heard    hearing.Conditions `json:"listening"`
	Limit    float64            `json:"limit"`
	Stages   []StageHead        `json:"stages"`
}

// StageHead is one stage of a survey.
type StageHead struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	// Drive is the stage's input at digital full scale, V peak, and Optimum its optimum
	// quiescent current, A, 0 where its circuit has none.
	Drive    float64 `json:"drive_v"`
	Optimum  float64 `json:"optimum_quiescent_a"`
	Searched Span    `json:"searched"`
}

// Refusal is a file that was not surveyed.
type Refusal struct {
	Name   string `json:"name"`
	Reason string `json:"reason"`
}

// Recording is what is known of one recording.
type Recording struct {
	Name string `json:"name"`
	// ID is a hash of content and name.
	ID string `json:"id"`
	Properties
	Warnings []string  `json:"warnings,omitempty"`
	Excerpts []Excerpt `json:"excerpts"`
	// Without says which kinds of excerpt it does not have, and why.
	Without []string `json:"without,omitempty"`
	// Stages are what was found, in order of the survey's stages.
	Stages []Verdict `json:"stages,omitempty"`

	outcomes map[string]map[Kind]Outcome // by stage
}

// State says how a recording stands to the currents that were searched.
type State string

// The states. Recordings without a threshold are kept in every share: one that is clean
// at the minimum current counts as clean from there, one that is never clean as clean
// nowhere.
const (
	StateThreshold State = "threshold"
	StateClean     State = "clean"
	StateNever     State = "never"
)

// Verdict is what was found of a recording through one stage: of all its excerpts
// together.
type Verdict struct {
	Stage string `json:"stage"`
	State State  `json:"state"`
	// Threshold is the current from which all excerpts are predicted clean, A, in
	// [StateThreshold].
	Threshold *float64 `json:"threshold_a,omitempty"`
	// Clean are the stretches of current in which they all are.
	Clean []Span `json:"clean,omitempty"`
	// Worst is the kind of the excerpt that needs the most, and Heard where in it.
	Worst Kind    `json:"worst"`
	Heard *Moment `json:"heard,omitempty"`
	// Outcomes are those of the excerpts.
	Outcomes []Outcome `json:"outcomes"`
}

// put adds an outcome.
func (r *Recording) put(stage string, o Outcome) {
	if r.outcomes == nil {
		r.outcomes = map[string]map[Kind]Outcome{}
	}
	if r.outcomes[stage] == nil {
		r.outcomes[stage] = map[Kind]Outcome{}
	}
	r.outcomes[stage][o.Kind] = o
}

// has tells whether an excerpt was heard through a stage.
func (r *Recording) has(stage string, kind Kind) bool {
	_, ok := r.outcomes[stage][kind]
	return ok
}

// complete tells whether every excerpt was heard through every stage.
func (r *Recording) complete(stages []StageHead) bool {
	for _, stage := range stages {
		for _, e := range r.Excerpts {
			if !r.has(stage.Name, e.Kind) {
				return false
			}
		}
	}
	return true
}

// conclude fills in the verdicts. It returns why there is none, "" where there are all.
func (r *Recording) conclude(stages []StageHead) (reason string) {
	r.Stages = nil
	for _, stage := range stages {
		v := Verdict{Stage: stage.Name}
		for _, e := range r.Excerpts {
			o := r.outcomes[stage.Name][e.Kind]
			if o.Error != "" {
				return fmt.Sprintf("%s, %s excerpt: %s", stage.Name, e.Kind, o.Error)
			}
			v.Outcomes = append(v.Outcomes, o)
		}
		v.conclude()
		r.Stages = append(r.Stages, v)
	}
	return ""
}

// conclude joins the outcomes of the excerpts, of which there is at least one.
func (v *Verdict) conclude() {
	worst := &v.Outcomes[0]
	v.Clean = worst.Clean
	for i := range v.Outcomes[1:] {
		o := &v.Outcomes[i+1]
		v.Clean = intersect(v.Clean, o.Clean)
		if demands(o) > demands(worst) {
			worst = o
		}
	}
	v.Worst, v.Heard = worst.Kind, worst.Heard
	switch {
	case len(v.Clean) == 0:
		v.State = StateNever
	case v.Clean[0].From > worst.Searched.From:
		v.State, v.Threshold = StateThreshold, &v.Clean[0].From
	default:
		v.State = StateClean
	}
}

// demands is the current that an excerpt asks for, A: 0 where it is clean at the minimum,
// beyond all that was searched where it never is.
func demands(o *Outcome) float64 {
	switch {
	case len(o.Clean) == 0:
		return 2*o.Searched.To + o.Heard.detection()
	case o.Threshold == nil:
		return 0
	}
	return *o.Threshold
}

func (m *Moment) detection() float64 {
	if m == nil {
		return 0
	}
	return m.Detection
}

// intersect returns the stretches that lie in both lists, each ascending.
func intersect(a, b []Span) []Span {
	var both []Span
	for _, x := range a {
		for _, y := range b {
			if from, to := max(x.From, y.From), min(x.To, y.To); from <= to {
				both = append(both, Span{from, to})
			}
		}
	}
	return both
}

// Stage returns the verdict of a stage.
func (r *Recording) Stage(name string) *Verdict {
	i := slices.IndexFunc(r.Stages, func(v Verdict) bool { return v.Stage == name })
	return &r.Stages[i]
}

// clean tells whether the recording is predicted clean at a current, A.
func (v *Verdict) clean(quiescent float64) bool {
	return slices.ContainsFunc(v.Clean, func(s Span) bool { return quiescent >= s.From && quiescent <= s.To })
}

// WriteJSON writes the result for programs.
func (r *Result) WriteJSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}

// Read reads a result that [Result.WriteJSON] wrote. The name stands in errors.
func Read(from io.Reader, name string) (*Result, error) {
	r := &Result{}
	if err := json.NewDecoder(from).Decode(r); err != nil {
		return nil, fmt.Errorf("%s: not the JSON of a survey: %w", name, err)
	}
	if r.Schema != SchemaVersion || len(r.Distributions) == 0 {
		return nil, fmt.Errorf("%s: schema %d with %d stages; legal is the JSON of a survey, schema %d", name, r.Schema, len(r.Distributions), SchemaVersion)
	}
	for _, d := range r.Distributions {
		if len(d.Shares) == 0 {
			return nil, fmt.Errorf("%s: stage %q has no shares: its library was empty", name, d.Stage)
		}
	}
	return r, nil
}

// order sorts what a result lists.
func (r *Result) order() {
	slices.SortFunc(r.Recordings, func(a, b Recording) int { return strings.Compare(a.Name+a.ID, b.Name+b.ID) })
	slices.SortFunc(r.Refused, func(a, b Refusal) int { return strings.Compare(a.Name+a.Reason, b.Name+b.Reason) })
	slices.Sort(r.Missing)
}
