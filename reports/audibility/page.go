package audibility

import (
	"fmt"
	"io"
	"math"

	"quietcross/dsp/hearing"
	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// WritePage writes the result as a page. Excerpts are links to files beside it.
func (r *Result) WritePage(w io.Writer) error {
	s := &sheet.Sheet{
		Kicker: "quietcross audibility",
		Title:  "How much bias is enough? " + r.Title,
		Subtitle: fmt.Sprintf("For %s; full scale is %s peak at the stage's input; levels matched by %s; optimum bias at %s.",
			r.Heard, format.Digits(r.Drive, 3, "V"), r.Match, format.Quantity(r.Optimum, "A")),
		Warnings: Limits[:1], Cautions: caution.Listening(),
		Sections: []sheet.Section{r.thresholds()},
	}
	for i, grid := range r.Grids {
		s.Sections = append(s.Sections, r.material(i, grid))
	}
	if len(r.Correlations) > 0 {
		s.Sections = append(s.Sections, correlations(r.Correlations))
	}
	s.Sections = append(s.Sections, sheet.Section{Heading: "Limits", Text: Limits[1:]})
	return s.Write(w)
}

// thresholds is the answer: one line a piece and level.
func (r *Result) thresholds() sheet.Section {
	t := sheet.Table{Columns: []string{"material", "level", "threshold", "expected", "bias", "finding"}, Prose: true}
	for _, f := range r.Findings {
		t.Rows = append(t.Rows, append(append([]string{f.Material, format.DB(f.Level)}, thresholdCells(f)...), finding(f)))
	}
	return sheet.Section{
		Heading: "Thresholds",
		Text:    []string{"The quiescent current above which the difference is no longer predicted to be " + LimitWords(r.Limit) + ". Beside it, where the threshold is to be expected if the model errs as it does on published thresholds."},
		Tables:  []sheet.Table{t},
	}
}

// material is one piece: its curves, its map, what each rung was found to be.
func (r *Result) material(index int, grid Grid) sheet.Section {
	section := sheet.Section{Heading: grid.Material}
	if figure, ok := r.curves(index, grid.Material); ok {
		section.Figures = append(section.Figures, figure)
	}
	if figure, ok := mapFigure(index, grid); ok {
		section.Figures = append(section.Figures, figure)
	}
	for _, f := range r.Findings {
		if f.Material == grid.Material && len(f.Curve) > 0 {
			section.Tables = append(section.Tables, rungTable(f))
		}
		if f.Material == grid.Material && f.Picture != nil {
			section.Figures = append(section.Figures, excessFigure(len(section.Figures), index, f))
		}
	}
	for _, e := range r.Excerpts {
		if e.Material != grid.Material {
			continue
		}
		section.Clips = append(section.Clips, e.clips()...)
	}
	return section
}

func (e Excerpt) clips() []sheet.Clip {
	at := fmt.Sprintf("%s, from %s", format.DB(e.Level), format.Duration(e.From))
	return []sheet.Clip{
		{Label: "reference, " + at, File: e.Reference},
		{Label: format.Quantity(e.Quiescent, "A") + ", " + at, File: e.Rendering},
	}
}

// curves draws the probability of noticing against quiescent current, one trace
// a level. A stage without any current has no place on a logarithmic axis.
func (r *Result) curves(index int, material string) (sheet.Figure, bool) {
	f := &plot.Figure{
		Name:  fmt.Sprintf("curve-%d", index),
		Title: "Probability of noticing: " + material, Desc: "Falls as the quiescent current rises.",
		X:     plot.Axis{Label: "quiescent current", Unit: "A", SI: true, Log: true, Lo: math.Inf(1)},
		Y:     plot.Axis{Label: "probability of noticing", Lo: 0, Hi: 1},
		Rules: []plot.Rule{{At: r.Limit, Label: "limit"}},
	}
	for _, finding := range r.Findings {
		if finding.Material != material {
			continue
		}
		trace := plot.Trace{Label: format.DB(finding.Level), Look: plot.Look{Index: len(f.Traces)}}
		for _, p := range finding.Curve {
			if p.Quiescent > 0 {
				trace.X = append(trace.X, p.Quiescent)
				trace.Y = append(trace.Y, p.Detection)
			}
		}
		if len(trace.X) < 2 {
			continue
		}
		f.X.Lo, f.X.Hi = min(f.X.Lo, trace.X[0]), max(f.X.Hi, trace.X[len(trace.X)-1])
		f.Traces = append(f.Traces, trace)
	}
	if len(f.Traces) == 0 {
		return sheet.Figure{}, false
	}
	if r.Optimum > f.X.Lo && r.Optimum < f.X.Hi {
		f.Rules = append(f.Rules, plot.Rule{At: r.Optimum, Vertical: true, Label: "optimum"})
	}
	return sheet.Figure{Figure: f, Caption: "Predicted probability that the difference from the reference is noticed, chance taken out, one line a level re the drive."}, true
}

func rungTable(f Finding) sheet.Table {
	t := sheet.Table{
		Caption: fmt.Sprintf("%s at %s", f.Material, format.DB(f.Level)),
		Columns: []string{"quiescent", "bias", "d′", "noticed", "strongest at", "excess", "through", "THD", "weighted THD", "Gm", "where", "BS.1387: detection", "noise to mask", "grade"},
	}
	for _, p := range f.Curve {
		row := []string{format.Quantity(p.Quiescent, "A"), format.Digits(p.Bias, 4, "V"), Sensitivity(p.DPrime), probability(p.Detection)}
		row = append(row, placeCells(p.Strongest)...)
		row = append(row, percentOf(p, "thd"), percentOf(p, "weighted_thd"), numberOf(p, "gm"), string(p.When.Passage))
		t.Rows = append(t.Rows, append(row, p.Standard.cells()...))
	}
	return t
}

// placeCells writes where a difference stands out most.
func placeCells(p hearing.Place) []string {
	if p.Frequency == 0 {
		return []string{"–", "–", "–"}
	}
	return []string{format.Quantity(p.Low, "Hz") + "–" + format.Quantity(p.High, "Hz"), format.DB(p.Excess), p.Through.String()}
}

// cells writes the standard's figures, where there are any.
func (s *Standard) cells() []string {
	if s == nil {
		return []string{"", "", ""}
	}
	grade := "–"
	if s.Grade != nil {
		grade = format.Fixed(*s.Grade, 2)
	}
	return []string{probability(s.Detection), format.DB(s.NoiseToMask), grade}
}

// Sensitivity writes a d'.
func Sensitivity(d float64) string {
	if d > 0 && d < 0.01 {
		return "under 0.01"
	}
	return format.Number(d, 2)
}

// probability writes a probability to a tenth of a percent.
func probability(p float64) string {
	if p > 0 && p < 0.001 {
		return "under 0.1 %"
	}
	return format.Fixed(100*p, 1) + " %"
}

func percentOf(p Point, name string) string {
	v, ok := p.Numbers[name]
	if !ok {
		return "–"
	}
	return format.Percent(v, 3)
}

func numberOf(p Point, name string) string {
	v, ok := p.Numbers[name]
	if !ok {
		return "–"
	}
	return format.Number(v, 3)
}

// correlations tells which simple number follows the prediction.
func correlations(list []Correlation) sheet.Section {
	t := sheet.Table{Columns: []string{"number", "renderings", "rank correlation"}}
	for _, c := range list {
		t.Rows = append(t.Rows, []string{
			c.Number, format.Count(int64(c.Points)), format.Fixed(c.Rank, 3),
		})
	}
	return sheet.Section{
		Heading: "Which simple number tracks audibility?",
		Text:    []string{"Spearman's rank correlation with d′ over all renderings: 1 means that more of the number always goes with more heard, 0 that it tells nothing."},
		Tables:  []sheet.Table{t},
		Notes:   []string{"THD and the weighted figures are of a steady tone with the piece's peak through the same law; Gm diverges for a stage with a dead band and is left out there."},
	}
}
