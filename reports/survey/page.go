package survey

import (
	"fmt"
	"io"
	"slices"

	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// WritePage writes the survey as a page; what is to be listened to lies beside it.
func (r *Result) WritePage(w io.Writer) error {
	s := &sheet.Sheet{
		Kicker: "quietcross survey", Title: "How much of the library is clean?",
		Subtitle: upper(r.Head.conditions()) + ".",
		Warnings: append([]string{Limits[0]}, r.Warnings...),
		Cautions: slices.Concat(caution.Listening(), caution.Bench()),
		Sections: []sheet.Section{r.answer()},
	}
	if r.Part != "" {
		s.Subtitle += fmt.Sprintf(" Part %s of the library.", r.Part)
	}
	if len(r.Comparisons) > 0 {
		s.Sections = append(s.Sections, r.comparison())
	}
	for i := range r.Distributions {
		s.Sections = append(s.Sections, r.worstSection(&r.Distributions[i]))
	}
	s.Sections = append(s.Sections, r.propertySection(), r.library(), sheet.Section{Heading: "Limits", Text: Limits[1:]})
	return s.Write(w)
}

// upper begins a text with a capital.
func upper(text string) string {
	if text == "" || text[0] < 'a' || text[0] > 'z' {
		return text
	}
	return string(text[0]-'a'+'A') + text[1:]
}

// answer is the sentence of each stage, the curves and the table.
func (r *Result) answer() sheet.Section {
	section := sheet.Section{Heading: "The answer"}
	t := sheet.Table{
		Caption: "Quiescent currents that keep parts of the library clean, with 95 % intervals",
		Columns: []string{"stage", "50 %", "90 %", "99 %"},
	}
	shares := sheet.Table{
		Caption: "Recordings clean, with 95 % intervals",
		Columns: []string{"stage", "optimum", "clean there", "clean at the minimum searched", "clean nowhere"},
	}
	for i := range r.Distributions {
		d := &r.Distributions[i]
		section.Text = append(section.Text, d.Sentence+".")
		t.Rows = append(t.Rows, []string{d.Stage, d.currentCell(0), d.currentCell(1), d.currentCell(2)})
		shares.Rows = append(shares.Rows, []string{
			d.Stage, amperes(r.Stages[i].Optimum), shareCell(d.AtOptimum), format.Count(int64(d.Clean)), format.Count(int64(d.Never)),
		})
		if figure, ok := d.curve(i, r.Stages[i].Optimum); ok {
			section.Figures = append(section.Figures, figure)
		}
	}
	section.Tables = []sheet.Table{t, shares}
	if n := len(r.Recordings); n > 0 {
		for _, c := range r.Distributions[0].Currents {
			if n < c.Needed {
				section.Notes = append(section.Notes, fmt.Sprintf("An upper bound for the current of %s of a library takes %d recordings or more; here are %d.",
					format.Percent(c.Part, 2), c.Needed, n))
			}
		}
	}
	return section
}

// curve draws the share clean against quiescent current, with its interval.
func (d *Distribution) curve(index int, optimum float64) (sheet.Figure, bool) {
	if len(d.Shares) < 2 {
		return sheet.Figure{}, false
	}
	middle := plot.Trace{Label: d.Stage, Look: plot.Look{Index: index, Wide: true, Solid: true}}
	low := plot.Trace{Label: "95 % interval", Look: plot.Look{Index: index + 1}}
	high := plot.Trace{Look: plot.Look{Index: index + 1}}
	for _, s := range d.Shares {
		for trace, y := range map[*plot.Trace]float64{&middle: s.Share, &low: s.Interval.Low, &high: s.Interval.High} {
			trace.X, trace.Y = append(trace.X, s.Quiescent), append(trace.Y, 100*y)
		}
	}
	f := &plot.Figure{
		Name: fmt.Sprintf("share-%d", index), Title: "Share of recordings predicted clean: " + d.Stage,
		Desc: "Rises as the quiescent current rises.", Width: 680, Height: 340,
		X:      plot.Axis{Label: "quiescent current", Unit: "A", SI: true, Log: true, Lo: d.Shares[0].Quiescent, Hi: d.Shares[len(d.Shares)-1].Quiescent},
		Y:      plot.Axis{Label: "recordings clean", Unit: "%", Lo: 0, Hi: 100},
		Rules:  []plot.Rule{{At: 90, Label: "90 %"}},
		Traces: []plot.Trace{low, high, middle},
	}
	if optimum > f.X.Lo && optimum < f.X.Hi {
		f.Rules = append(f.Rules, plot.Rule{At: optimum, Vertical: true, Label: "optimum"})
	}
	return sheet.Figure{Figure: f, Caption: fmt.Sprintf("Share of %s recordings predicted clean through %s, with its 95 %% interval.", format.Count(int64(d.Recordings)), d.Stage)}, true
}

// comparison sets the stages against the first.
func (r *Result) comparison() sheet.Section {
	t := sheet.Table{Columns: []string{"stage", "against", "difference of the share clean", "clean in it alone", "clean in the other alone"}}
	for _, c := range r.Comparisons {
		t.Rows = append(t.Rows, []string{
			c.Stage, c.First, fmt.Sprintf("%s points (%s to %s)", points(c.Difference), points(c.Interval.Low), points(c.Interval.High)),
			format.Count(int64(c.OnlyStage)), format.Count(int64(c.OnlyFirst)),
		})
	}
	return sheet.Section{
		Heading: "Stages compared, each at its optimum",
		Text:    []string{"The same recordings through each stage. A difference whose interval holds zero is none that this library can show."},
		Tables:  []sheet.Table{t},
	}
}

// points writes a difference of shares in percentage points.
func points(x float64) string { return format.Fixed(100*x, 1) }

// worstSection lists the recordings that need the most, to be listened to.
func (r *Result) worstSection(d *Distribution) sheet.Section {
	section := sheet.Section{Heading: "The worst recordings through " + d.Stage}
	switch {
	case d.Recordings == 0:
		section.Text = []string{"Nothing was surveyed."}
		return section
	case len(d.Worst) == 0:
		section.Text = []string{"Every recording is predicted clean at the minimum current searched."}
		return section
	}
	t := sheet.Table{Columns: []string{"recording", "clean from", "excerpt", "heard at", "current there", "detection"}}
	for _, w := range d.Worst {
		t.Rows = append(t.Rows, []string{
			printable(w.Name), w.threshold(), string(w.Kind), format.Duration(w.Heard.First), amperes(w.Heard.Quiescent), percent(w.Heard.Detection),
		})
		section.Clips = append(section.Clips,
			sheet.Clip{Label: printable(w.Name) + ", reference", File: w.Reference},
			sheet.Clip{Label: printable(w.Name) + ", " + amperes(w.Heard.Quiescent), File: w.Rendering})
	}
	section.Tables = []sheet.Table{t}
	return section
}

// propertySection tells which property goes with the threshold.
func (r *Result) propertySection() sheet.Section {
	t := sheet.Table{Columns: []string{"property", "stage", "recordings", "rank correlation", "95 % interval"}}
	for i := range r.Distributions {
		for _, c := range r.Distributions[i].Properties {
			t.Rows = append(t.Rows, []string{
				c.Property, r.Distributions[i].Stage, format.Count(int64(c.Recordings)), format.Fixed(c.Rank, 2),
				format.Fixed(c.Interval.Low, 2) + " to " + format.Fixed(c.Interval.High, 2),
			})
		}
	}
	section := sheet.Section{
		Heading: "What goes with a high threshold?",
		Text:    []string{"Spearman's rank correlation of each property with the current from which a recording is clean: 1 means that more of the property always goes with more current, 0 that it tells nothing."},
	}
	if len(t.Rows) == 0 {
		section.Text = append(section.Text, fmt.Sprintf("It takes %d recordings that differ to tell.", leastRanked))
		return section
	}
	section.Tables = []sheet.Table{t}
	return section
}

// shownRecordings bounds the page's list; JSON and CSV hold all.
const shownRecordings = 200

// library lists the recordings and what could not be surveyed.
func (r *Result) library() sheet.Section {
	section := sheet.Section{Heading: "The library"}
	t := sheet.Table{Columns: []string{"recording", "length", "loudness", "range"}}
	for _, stage := range r.Stages {
		t.Columns = append(t.Columns, "clean from, "+stage.Name)
	}
	for i := range r.Recordings[:min(shownRecordings, len(r.Recordings))] {
		rec := &r.Recordings[i]
		spread := "–"
		if rec.Range != nil {
			spread = format.Fixed(float64(*rec.Range), 1) + " LU"
		}
		row := []string{printable(rec.Name), format.Duration(rec.Seconds), format.Decibels(rec.Loudness, "LUFS"), spread}
		for j := range rec.Stages {
			row = append(row, rec.Stages[j].words())
		}
		t.Rows = append(t.Rows, row)
	}
	if left := len(r.Recordings) - len(t.Rows); left > 0 {
		section.Notes = append(section.Notes, fmt.Sprintf("%s more recordings are in the JSON and the CSV.", format.Count(int64(left))))
	}
	if len(t.Rows) > 0 {
		section.Tables = append(section.Tables, t)
	}
	refused := sheet.Table{Caption: "Not surveyed", Columns: []string{"file", "reason"}, Prose: true}
	for _, f := range r.Refused {
		refused.Rows = append(refused.Rows, []string{printable(f.Name), printable(f.Reason)})
	}
	for _, name := range r.Missing {
		refused.Rows = append(refused.Rows, []string{printable(name), "missing: no part has finished it"})
	}
	if len(refused.Rows) > 0 {
		section.Tables = append(section.Tables, refused)
	}
	return section
}

// words says from which current a recording is clean.
func (v *Verdict) words() string {
	switch v.State {
	case StateNever:
		return "never"
	case StateClean:
		return "the minimum"
	}
	return amperes(*v.Threshold)
}
