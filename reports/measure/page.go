package measure

import (
	"fmt"
	"io"
	"math"
	"sort"

	"quietcross/dsp/level"
	"quietcross/reports/view/caution"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// WritePage writes the recordings as one page.
func WritePage(w io.Writer, recordings []Recording) error {
	s := &sheet.Sheet{Kicker: "quietcross measurement", Title: recordings[0].File, Subtitle: recordings[0].Format, Cautions: caution.Measuring()}
	if len(recordings) > 1 {
		s.Title, s.Subtitle = fmt.Sprintf("%d recordings", len(recordings)), ""
	}
	names := &numbered{}
	for _, r := range recordings {
		if len(recordings) > 1 {
			s.Sections = append(s.Sections, sheet.Section{Heading: r.File, Text: []string{r.Format}})
		}
		if r.Report != nil {
			s.Sections = append(s.Sections, reportSections(r.Report, names)...)
		}
		if r.Comparison != nil {
			s.Sections = append(s.Sections, comparisonSections(r, names)...)
		}
	}
	return s.Write(w)
}

// numbered hands out figure names that are unique on the page.
type numbered struct{ n int }

func (u *numbered) next() string {
	u.n++
	return fmt.Sprintf("figure-%d", u.n)
}

func reportSections(r *Report, names *numbered) []sheet.Section {
	sections := []sheet.Section{{Heading: "Whole recording", Text: r.Warnings, Tables: figureTable(r.Figures)}}
	for i := range r.Channels {
		sections = append(sections, channelSections(&r.Channels[i], len(r.Channels) > 1, names)...)
	}
	return sections
}

func channelSections(c *Channel, named bool, names *numbered) []sheet.Section {
	heading := "Found: " + c.Kind
	if c.Told {
		heading = "As told: " + c.Kind
	}
	if named {
		heading = fmt.Sprintf("Channel %d. %s", c.Index+1, heading)
	}
	section := sheet.Section{Heading: heading, Text: c.Warnings, Tables: figureTable(c.Figures)}
	if figure, ok := stems(c, names); ok {
		section.Figures = append(section.Figures, figure)
	}
	if figure, ok := bandFigure("Third octaves", map[string][]Band{"signal": c.Bands}, []string{"signal"}, names); ok {
		section.Figures = append(section.Figures, figure)
	}
	if len(c.Lines) > 0 {
		section.Tables = append(section.Tables, lineTable(c.Lines))
	}
	sections := []sheet.Section{section}
	for i := range c.Steps {
		step := channelSections(&c.Steps[i], false, names)
		step[0].Heading = fmt.Sprintf("Step %d, frames %d to %d", i+1, c.Steps[i].From, c.Steps[i].To)
		sections = append(sections, step...)
	}
	return sections
}

func comparisonSections(r Recording, names *numbered) []sheet.Section {
	var sections []sheet.Section
	for _, c := range r.Comparison.Channels {
		section := sheet.Section{
			Heading: fmt.Sprintf("Channel %d against %s", c.Index+1, r.Reference),
			Text:    append(append([]string(nil), r.Comparison.Warnings...), c.Warnings...),
			Tables:  figureTable(c.Figures),
		}
		if c.Inverted {
			section.Text = append(section.Text, "The polarity is inverted.")
		}
		bands := map[string][]Band{"signal": c.Signal, "residual": c.Residual, "nonlinear": c.NonlinearResidual}
		if figure, ok := bandFigure("Residual against the signal", bands, []string{"signal", "residual", "nonlinear"}, names); ok {
			section.Figures = append(section.Figures, figure)
		}
		sections = append(sections, section)
	}
	return sections
}

func figureTable(figures []Figure) []sheet.Table {
	if len(figures) == 0 {
		return nil
	}
	t := sheet.Table{Columns: []string{"figure", "value", "uncertainty", "definition"}, Prose: true}
	for _, f := range figures {
		r := rowOf(f)
		t.Rows = append(t.Rows, []string{r.title, r.value, r.uncertainty, r.definition})
	}
	return []sheet.Table{t}
}

func lineTable(lines []Line) sheet.Table {
	t := sheet.Table{Columns: lineColumns}
	for _, l := range lines {
		t.Rows = append(t.Rows, lineCells(l))
	}
	return t
}

// floor is the lower end of level axes, dB.
const floor = -160

// stems draws the resolved harmonics or products of a channel.
func stems(c *Channel, names *numbered) (sheet.Figure, bool) {
	trace := plot.Trace{Kind: plot.Stems}
	for _, l := range c.Lines {
		if l.Resolved && l.Frequency > 0 {
			trace.X = append(trace.X, l.Frequency)
			trace.Y = append(trace.Y, max(float64(l.Level()), floor))
		}
	}
	if len(trace.X) == 0 {
		return sheet.Figure{}, false
	}
	sortByX(&trace)
	return sheet.Figure{
		Caption: "Harmonics or products that stand clear of the noise, re the reference of their measure.",
		Figure: &plot.Figure{
			Name: names.next(), Title: "Harmonics and products", Desc: "Level of each resolved line against its frequency.",
			X:      plot.Axis{Label: "frequency", Unit: "Hz", SI: true, Lo: 0, Hi: 1.05 * trace.X[len(trace.X)-1]},
			Y:      plot.Axis{Label: "level", Unit: "dB", Lo: floor, Hi: 0},
			Traces: []plot.Trace{trace},
		},
	}, true
}

// bandFigure draws third-octave levels, one trace a name.
func bandFigure(title string, bands map[string][]Band, order []string, names *numbered) (sheet.Figure, bool) {
	f := &plot.Figure{
		Title: title, Desc: "Level in third octaves against frequency.",
		X: plot.Axis{Label: "frequency", Unit: "Hz", SI: true, Lo: 20, Hi: 20000, Log: true},
		Y: plot.Axis{Label: "level in third octaves", Unit: "dBFS", Lo: floor, Hi: 0},
	}
	for i, name := range order {
		list := bands[name]
		if len(list) == 0 {
			continue
		}
		f.Traces = append(f.Traces, bandTrace(name, list, i))
		f.X.Lo = min(f.X.Lo, f.Traces[0].X[0])
		f.X.Hi = max(f.X.Hi, f.Traces[0].X[len(list)])
	}
	if len(f.Traces) == 0 {
		return sheet.Figure{}, false
	}
	f.Name = names.next()
	return sheet.Figure{Figure: f, Caption: "Third octaves (IEC 61260-1), re a full-scale sine."}, true
}

// bandTrace draws bands as steps between their edges, a twentieth of a decade to
// either side of the mid-band frequency (IEC 61260-1).
func bandTrace(name string, bands []Band, index int) plot.Trace {
	edge := math.Pow(10, 0.05)
	t := plot.Trace{Label: name, Kind: plot.Steps, Look: plot.Look{Index: index}, X: []float64{bands[0].Mid / edge}}
	for _, b := range bands {
		t.X = append(t.X, b.Mid*edge)
		t.Y = append(t.Y, float64(max(b.Level, level.DB(floor))))
	}
	return t
}

// sortByX puts the points of a trace in rising order of X: products of two tones
// come by order, not by frequency.
func sortByX(t *plot.Trace) { sort.Sort((*rising)(t)) }

type rising plot.Trace

func (r *rising) Len() int           { return len(r.X) }
func (r *rising) Less(i, j int) bool { return r.X[i] < r.X[j] }
func (r *rising) Swap(i, j int) {
	r.X[i], r.X[j] = r.X[j], r.X[i]
	r.Y[i], r.Y[j] = r.Y[j], r.Y[i]
}
