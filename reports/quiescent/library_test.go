package quiescent

import (
	"math"
	"strings"
	"testing"

	"quietcross/dsp/hearing"
	"quietcross/reports/survey"
	"quietcross/stage"
)

// surveyOf is a survey of one stage whose library asks for currents, A.
func surveyOf(t *testing.T, name string, half, nine float64) (*survey.Result, stage.Spec) {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	low, high := 0.8*nine, 1.3*nine
	r := &survey.Result{}
	r.Heard, r.Limit = hearing.DefaultConditions(), 0.5
	r.Stages = []survey.StageHead{{Name: name, Optimum: st.OptimumQuiescent(), Searched: survey.Span{From: 1e-4, To: 1}}}
	r.Distributions = []survey.Distribution{{
		Stage: name, Recordings: 240,
		Currents: []survey.Current{{Part: 0.5, Quiescent: &half, Low: &half}, {Part: 0.9, Quiescent: &nine, Low: &low, High: &high}, {Part: 0.99}},
	}}
	return r, spec
}

// What a survey asks stands in the place of what the pieces ask.
func TestLibraryAsks(t *testing.T) {
	r, spec := surveyOf(t, "pair-12w", 0.01, 0.02)
	l, err := Surveyed(r, "s.json", spec, r.Heard, 0.5, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	rec := Recommendation{Minimum: 0.5, MinimumKnown: true, MinimumBy: "a piece"}
	l.ask(&rec)
	if rec.Minimum != 0.02 || !rec.MinimumKnown || math.Abs(rec.Expected.Low-0.016) > 1e-9 || math.Abs(rec.Expected.High-0.026) > 1e-9 || rec.Expected.Open {
		t.Errorf("%+v, expected %+v", rec, rec.Expected)
	}
	if rec.Margin != rec.Expected.High || !rec.MarginKnown {
		t.Errorf("margin %g A, known %v, want the interval's upper end", rec.Margin, rec.MarginKnown)
	}
	said := strings.ReplaceAll(rec.MinimumBy, "\u00a0", " ")
	if said != "more than 10 % of 240 recordings" {
		t.Errorf("asked by %q", said)
	}
	if l, err = Surveyed(r, "s.json", spec, r.Heard, 0.5, 0.5); err != nil || !l.Interval.Open || l.Interval.High != 1 {
		t.Errorf("without an upper bound: %+v, %v", l, err)
	}
	if l, err = Surveyed(r, "s.json", spec, r.Heard, 0.5, 0.99); err != nil {
		t.Fatal(err)
	}
	if l.ask(&rec); rec.MinimumKnown || rec.Minimum != 0 {
		t.Errorf("a part that no current keeps clean: %+v", rec)
	}
}

// A survey of something else is refused with what differs.
func TestSurveyedRefuses(t *testing.T) {
	r, spec := surveyOf(t, "pair-12w", 0.01, 0.02)
	louder := r.Heard
	louder.Playback++
	changed := spec
	changed.Emitter.Ohms *= 2
	other, _ := stage.Lookup("pair-60w")
	for said, refused := range map[string]func() error{
		"and not pair-60w": func() error { _, err := Surveyed(r, "s.json", other, r.Heard, 0.5, 0.9); return err },
		"another stage":    func() error { _, err := Surveyed(r, "s.json", changed, r.Heard, 0.5, 0.9); return err },
		"93 dB SPL":        func() error { _, err := Surveyed(r, "s.json", spec, louder, 0.5, 0.9); return err },
		"0.25":             func() error { _, err := Surveyed(r, "s.json", spec, r.Heard, 0.25, 0.9); return err },
		"50, 90 and 99":    func() error { _, err := Surveyed(r, "s.json", spec, r.Heard, 0.5, 0.8); return err },
	} {
		if err := refused(); err == nil || !strings.Contains(err.Error(), said) || !strings.Contains(err.Error(), "s.json") {
			t.Errorf("%v, want %q in it", err, said)
		}
	}
}
