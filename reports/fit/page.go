package fit

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// WritePage writes the fit as a page.
func (r *Report) WritePage(w io.Writer) error {
	s := &sheet.Sheet{
		Kicker: "quietcross fit", Title: r.Title,
		Subtitle: fmt.Sprintf("From %s: full scale is %s at the output; %d levels.", r.File, format.Digits(r.FullScale, 4, "V"), len(r.Fit.Observations)),
	}
	s.Cautions = caution.Bench()
	found := sheet.Section{Heading: "What explains the recording", Tables: []sheet.Table{{Columns: parameterColumns, Rows: r.parameters(), Prose: true}}}
	for _, statement := range r.Fit.Statements {
		found.Text = append(found.Text, sentence(statement))
	}
	head, rows := r.lines()
	s.Sections = []sheet.Section{found, {
		Heading: "Recorded and fitted",
		Figures: r.figures(),
		Tables:  []sheet.Table{{Caption: linesCaption, Columns: head, Rows: rows}},
	}}
	return s.Write(w)
}

// figures draws lines of odd and of even order against output.
func (r *Report) figures() []sheet.Figure {
	var figures []sheet.Figure
	for i, title := range []string{"Even orders", "Odd orders"} {
		f := &plot.Figure{
			Name: fmt.Sprintf("orders-%d", i), Title: title + " against output", Desc: "Recorded points and fitted lines.",
			X: plot.Axis{Label: "output, peak", Unit: "V", SI: true, Log: true},
			Y: plot.Axis{Label: "re the tones", Unit: "dB", Lo: floor, Hi: 0},
		}
		head, _ := r.lines()
		for k, name := range head[1:] {
			f.Traces = append(f.Traces, r.traces(name, i, k)...)
		}
		if !visible(f) || !spanOutput(f) {
			continue
		}
		figures = append(figures, sheet.Figure{Figure: f, Caption: title + ": markers are recorded, where they stand clear of the noise; lines are the fitted stage's."})
	}
	return figures
}

// traces returns the fitted line and the recorded points of a spectral line, if its
// order is even (parity 0) or odd (1).
func (r *Report) traces(name string, parity, index int) []plot.Trace {
	look := plot.Look{Index: index}
	line, points := plot.Trace{Label: name, Look: look}, plot.Trace{Kind: plot.Points, Look: look}
	rising := slices.Clone(r.Fit.Observations)
	slices.SortFunc(rising, func(a, b Observation) int { return cmp.Compare(a.Total(), b.Total()) })
	for _, o := range rising {
		for _, l := range o.Lines {
			if key(l) != name || !shown(l) || l.Order()%2 != parity {
				continue
			}
			line.X, line.Y = append(line.X, o.Total()), append(line.Y, float64(max(ratio(l.Model, o), floor)))
			if resolved(l) {
				points.X, points.Y = append(points.X, o.Total()), append(points.Y, float64(max(ratio(l.Volts, o), floor)))
			}
		}
	}
	if len(line.X) == 0 {
		return nil
	}
	return []plot.Trace{line, points}
}

// visible reports whether any point lies above the floor.
func visible(f *plot.Figure) bool {
	return slices.ContainsFunc(f.Traces, func(t plot.Trace) bool {
		return len(t.Y) > 0 && slices.Max(t.Y) > floor
	})
}

// spanOutput sets the output axis; false when there is nothing to draw.
func spanOutput(f *plot.Figure) bool {
	var all []float64
	for _, t := range f.Traces {
		all = append(all, t.X...)
	}
	if len(all) == 0 {
		return false
	}
	f.X.Lo, f.X.Hi = slices.Min(all)/1.3, slices.Max(all)*1.3
	return true
}
