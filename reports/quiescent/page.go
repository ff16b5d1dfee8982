package quiescent

import (
	"fmt"
	"io"
	"strings"

	"quietcross/reports/audibility"
	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/sheet"
)

// WritePage writes the report as a page.
func (r *Report) WritePage(w io.Writer) error {
	s := &sheet.Sheet{
		Kicker: "quietcross quiescent", Title: "Which quiescent current?",
		Warnings: Caveats[:1], Cautions: caution.Bench(),
	}
	if len(r.Stages) == 1 {
		s.Subtitle = r.Stages[0].Title + ": " + conditions(r.Stages[0])
	} else {
		s.Subtitle = fmt.Sprintf("%d stages side by side, on the same material and under the same limits.", len(r.Stages))
		s.Sections = append(s.Sections, r.comparison())
	}
	for i, stage := range r.Stages {
		s.Sections = append(s.Sections, r.stage(i, stage)...)
	}
	s.Sections = append(s.Sections, sheet.Section{Heading: "Limits", Text: Caveats[1:]})
	return s.Write(w)
}

// comparison is the table and the chart of several stages.
func (r *Report) comparison() sheet.Section {
	return sheet.Section{
		Heading: "Side by side",
		Text:    []string{"Each stage at the current to set. The chart has each stage at all its currents: the farther down and left, the better; the frontier joins what nothing beats in both."},
		Tables:  []sheet.Table{{Columns: comparisonColumns, Rows: r.comparisonRows()}},
		Figures: r.frontierFigure(),
	}
}

// stage is the sections of one stage.
func (r *Report) stage(index int, s *Result) []sheet.Section {
	heading := func(text string) string {
		if len(r.Stages) > 1 {
			return s.Stage + ": " + text
		}
		return strings.ToUpper(text[:1]) + text[1:]
	}
	first := sheet.Section{Heading: heading("the answer"), Text: answer(s), Notes: []string{Rule}}
	if len(r.Stages) > 1 {
		first.Text = append(first.Text, conditions(s)+".")
	}
	for _, warning := range s.Recommendation.Warnings {
		first.Text = append(first.Text, "Warning: "+warning+".")
	}
	if len(s.Remedies) > 0 {
		first.Tables = []sheet.Table{{Caption: remediesCaption(s), Columns: remedyColumns, Rows: remedyRows(s), Prose: true}}
	}
	list := []sheet.Section{first, {
		Heading: heading("the trade"), Figures: figures(index, s),
		Text: []string{"All against the quiescent current set, the current to set, the numerically best and the textbook's marked, and the range that meets all limits shaded."},
	}}
	if s.Guide != nil {
		list = append(list, sheet.Section{Heading: heading("the parts"), Text: bought(s)}, guide(heading("how to set it"), s))
	}
	if s.Yield != nil {
		list = append(list, units(heading("built units"), index, s))
	}
	return append(list, sweepSection(heading("all currents"), s))
}

func guide(heading string, s *Result) sheet.Section {
	section := sheet.Section{Heading: heading, Notes: caution.Bench()}
	for i, step := range steps(s) {
		section.Text = append(section.Text, fmt.Sprintf("%d. %s", i+1, step))
	}
	return section
}

func units(heading string, index int, s *Result) sheet.Section {
	y := s.Yield
	t := y.Tolerances
	return sheet.Section{
		Heading: heading,
		Text: []string{fmt.Sprintf("%s units drawn with seed %d: saturation currents spread by a factor of e to the %s between units and %s within a pair, current gains %s, emitter resistors %s, air %s to %s. A unit meets the limit of audibility when its settled current reaches the minimum of the range.",
			format.Count(int64(y.Units)), y.Seed, format.Number(t.Lot, 2), format.Number(t.Mismatch, 2), format.Number(t.Gain, 2),
			"±"+format.Percent(t.Resistor, 2), celsius(s.Limits.Coldest), celsius(s.Limits.Hottest))},
		Tables:  []sheet.Table{{Columns: yieldColumns, Rows: yieldRows(y)}},
		Figures: spreadFigure(index, s),
		Notes:   []string{"Shares have their 95 % interval (Wilson) in brackets."},
	}
}

func sweepSection(heading string, s *Result) sheet.Section {
	section := sheet.Section{
		Heading: heading,
		Tables:  []sheet.Table{soundTable(s), useTable(s), heatTable(s)},
		Notes: []string{
			"In use: from the current set over those settled at rest, with the material and, for currents that may be chosen, in the quiet after a loud minute, in the stage file's own air and with the coldest and the hottest; noticed is the worst over the range, read from the curves. Where what is heard lies far under the limit, so is that of the current set; at the current to set all material is rendered.",
			fmt.Sprintf("Quiescent: set with all junctions at %s. Emitter: across each emitter resistor. At rest: drawn from the supplies once warm, bias parts included. Idle, programme and sine: the hottest junction in the hottest air, with no signal, with the material at its loudest level, and with the sine that heats most. Drift: the quiescent current in use over that set.",
				celsius(s.Rungs[0].Rest.Sink)),
			"Loop gain: how much of a small warming comes back through the circuit; at 1 the bias runs away. Class A to: the sine power up to which both devices conduct all the time. An hour: energy drawn in an hour of the material at its loudest level.",
		},
	}
	if s.Chosen != nil {
		section.Tables = append(section.Tables, heardTable(s.Chosen))
	}
	return section
}

// heardTable is the prediction by piece at the current to set.
func heardTable(r *Rung) sheet.Table {
	t := sheet.Table{Caption: "By piece, at " + amperes(r.Quiescent), Columns: []string{"material", "level", "d′", "noticed"}}
	for _, h := range r.Heard {
		t.Rows = append(t.Rows, []string{
			h.Material, format.DB(h.Level), audibility.Sensitivity(h.DPrime), chance(h.Detection),
		})
	}
	return t
}
