package quiescent

import (
	"errors"
	"fmt"
	"slices"

	"quietcross/dsp/hearing"
	"quietcross/reports/audibility"
	"quietcross/reports/survey"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

// A survey says of a whole library what the search says of a few pieces. Where there is
// one, the minimum current of the recommendation is that which keeps a part of the
// library clean, with the survey's interval, whose upper end is its margin; curves and remedies go on listening to the
// pieces.

// Library is the current that a library of recordings asks for.
type Library struct {
	// Name says which part of which library, for people.
	Name string `json:"name"`
	// Part is the part of the library, 0 to 1, and Quiescent the minimum current, A, that
	// keeps it clean; nil where none that was surveyed does.
	Part      float64             `json:"part"`
	Quiescent *float64            `json:"quiescent_a"`
	Interval  audibility.Interval `json:"interval"`
}

// Surveyed takes from a survey, called name, what a part of its library asks of a stage.
// It refuses a survey of another stage, and one that was made for other conditions or
// another limit of noticing.
func Surveyed(r *survey.Result, name string, spec stage.Spec, heard hearing.Conditions, limit, part float64) (*Library, error) {
	i := slices.IndexFunc(r.Stages, func(s survey.StageHead) bool { return s.Name == spec.Name })
	if i < 0 || i >= len(r.Distributions) {
		return nil, fmt.Errorf("%s: surveys %s and not %s", name, stageNames(r), spec.Name)
	}
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	head, d := &r.Stages[i], &r.Distributions[i]
	switch {
	case head.Optimum != st.OptimumQuiescent():
		return nil, fmt.Errorf("%s: surveys another stage called %s: its optimum is %s, here %s", name, spec.Name, amperes(head.Optimum), amperes(st.OptimumQuiescent()))
	case r.Heard != heard:
		return nil, fmt.Errorf("%s: surveyed with %s; here it is %s", name, r.Heard, heard)
	case r.Limit != limit:
		return nil, fmt.Errorf("%s: surveyed at a probability of noticing of %g; here it is %g", name, r.Limit, limit)
	}
	j := slices.IndexFunc(d.Currents, func(c survey.Current) bool { return c.Part == part })
	if j < 0 {
		return nil, errors.New(name + ": found no current for " + format.Percent(part, 2) + "; a survey has those for 50, 90 and 99 %")
	}
	c := d.Currents[j]
	l := &Library{
		Name: fmt.Sprintf("%s of %s recordings", format.Percent(1-part, 2), format.Count(int64(d.Recordings))),
		Part: part, Quiescent: c.Quiescent, Interval: audibility.Interval{High: head.Searched.To, Open: c.High == nil},
	}
	if c.Low != nil {
		l.Interval.Low = *c.Low
	}
	if c.High != nil {
		l.Interval.High = *c.High
	}
	return l, nil
}

func stageNames(r *survey.Result) string {
	text := ""
	for _, s := range r.Stages {
		if text != "" {
			text += ", "
		}
		text += s.Name
	}
	return text
}

// ask puts what a library asks for in the place of what the pieces do.
func (l *Library) ask(r *Recommendation) {
	r.MinimumBy, r.Expected = "more than "+l.Name, &l.Interval
	r.Minimum, r.MinimumKnown = 0, l.Quiescent != nil
	if l.Quiescent != nil {
		r.Minimum = *l.Quiescent
	}
	r.Margin, r.MarginKnown, r.MarginBy = l.Interval.High, r.MinimumKnown && !l.Interval.Open, r.MinimumBy
}
