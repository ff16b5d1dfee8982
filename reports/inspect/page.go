package inspect

import (
	"html/template"
	"io"
	"slices"
	"strings"

	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/schematic"
	"quietcross/reports/view/sheet"
	"quietcross/stage"
)

// WritePage writes the inspection as a page. The error is that of writing, or of a
// circuit without a drawing.
func (look *Inspection) WritePage(w io.Writer) error {
	drawing, err := look.drawing()
	if err != nil {
		return err
	}
	s := &sheet.Sheet{
		Kicker: "quietcross inspection", Title: look.Spec.Title, Subtitle: look.Spec.Name + ", circuit " + look.Spec.Circuit,
		Styles: schematic.Style(), Cautions: caution.Bench(),
		Sections: []sheet.Section{
			{Heading: "Circuit, " + look.Rungs[0].Label + ", with no signal", Drawings: []template.HTML{drawing}, Notes: look.undrawn()},
			{
				Heading: "Crossover",
				Figures: []sheet.Figure{
					{Figure: look.picture(), Caption: "The slope of the transfer curve: a dip is what crossover distortion comes from, a bump is over-bias." + look.cutNote()},
					{Figure: look.transfer(), Caption: "The whole transfer curve, from clipping to clipping."},
				},
			},
			look.powerSection(),
			look.driftSection(),
			{Heading: "Numbers", Tables: []sheet.Table{look.sheetTable(), look.transientTable()}, Notes: []string{notes}},
		},
	}
	s.Sections = slices.Insert(s.Sections, len(s.Sections)-1, look.areaSection()...)
	for i := range look.Rungs {
		for _, broken := range look.Rungs[i].Warnings() {
			s.Warnings = append(s.Warnings, look.Rungs[i].Label+": "+broken)
		}
	}
	return s.Write(w)
}

// undrawn says what of the stage the drawing leaves out.
func (look *Inspection) undrawn() []string {
	list := look.Spec.Undrawn()
	if list == nil {
		return nil
	}
	return []string{"Solved with it and not drawn: " + strings.ReplaceAll(strings.Join(list, "; "), "ohm", "Ω") + "."}
}

// drawing draws the circuit with the operating point of the first setting.
func (look *Inspection) drawing() (template.HTML, error) {
	first := look.Rungs[0]
	f := &schematic.Figure{Name: "circuit", Spec: first.Biased().Trimmed(), Setting: first.Biased().Setting(), Point: first.Point}
	svg, err := f.SVG()
	return template.HTML(svg), err // the schematic escapes every text in it
}

func (look *Inspection) sheetTable() sheet.Table {
	t := sheet.Table{Columns: []string{""}}
	rows := look.rows()
	for _, rung := range look.Rungs {
		t.Columns = append(t.Columns, rows[0].cell(rung))
	}
	for _, r := range rows[1:] {
		cells := []string{r.name}
		for _, rung := range look.Rungs {
			cells = append(cells, r.cell(rung))
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}

// transfer draws the whole transfer curve.
func (look *Inspection) transfer() *plot.Figure {
	f := &plot.Figure{
		Name: "transfer", Title: "Transfer curve", Desc: "Output voltage against input voltage at each setting.",
		X: plot.Axis{Label: "input", Unit: "V", SI: true}, Y: plot.Axis{Label: "output", Unit: "V", SI: true},
	}
	for i, rung := range look.Rungs {
		trace := plot.Trace{Label: rung.Label, Look: plot.Look{Index: i}}
		for _, sample := range rung.Curve {
			trace.X = append(trace.X, sample.In)
			trace.Y = append(trace.Y, sample.Out)
			f.X.Lo, f.X.Hi = min(f.X.Lo, sample.In), max(f.X.Hi, sample.In)
			f.Y.Lo, f.Y.Hi = min(f.Y.Lo, sample.Out), max(f.Y.Hi, sample.Out)
		}
		f.Traces = append(f.Traces, trace)
	}
	return f
}

// powerSection draws supply, load, device heat and efficiency against level.
func (look *Inspection) powerSection() sheet.Section {
	section := sheet.Section{
		Heading: "Power against level",
		Text:    []string{"A sine at levels re the drive; every junction at the ambient temperature."},
	}
	for _, c := range []struct {
		name, title, label, unit string
		value                    func(stage.Power) float64
	}{
		{"supply", "Drawn from the supplies", "supply", "W", func(p stage.Power) float64 { return p.Supply }},
		{"load", "Delivered to the load", "load", "W", func(p stage.Power) float64 { return p.Load }},
		{"heat", "Heat of the devices", "dissipation", "W", stage.Power.Dissipation},
		{"efficiency", "Efficiency", "efficiency", "%", func(p stage.Power) float64 { return 100 * p.Efficiency }},
	} {
		section.Figures = append(section.Figures, sheet.Figure{Figure: look.powerFigure(c.name, c.title, c.label, c.unit, c.value)})
	}
	section.Tables = []sheet.Table{look.classTable()}
	return section
}

func (look *Inspection) powerFigure(name, title, label, unit string, value func(stage.Power) float64) *plot.Figure {
	f := &plot.Figure{
		Name: name, Title: title, Desc: title + " against level, one line a setting.",
		X: plot.Axis{Label: "level re the drive", Unit: "dB", Lo: MinimumLevel, Hi: 0},
		Y: plot.Axis{Label: label, Unit: unit, SI: unit == "W"},
	}
	for i, rung := range look.Rungs {
		trace := plot.Trace{Label: rung.Label, Look: plot.Look{Index: i}}
		for k, p := range rung.Powers {
			trace.X = append(trace.X, MinimumLevel+float64(k)*levelStep)
			trace.Y = append(trace.Y, value(p))
			f.Y.Hi = max(f.Y.Hi, 1.08*value(p))
		}
		f.Traces = append(f.Traces, trace)
	}
	if f.Y.Hi == 0 {
		f.Y.Hi = 1
	}
	return f
}

// classTable tells the class of each setting at some levels.
func (look *Inspection) classTable() sheet.Table {
	t := sheet.Table{Caption: "Class of the output devices by their conduction angle", Columns: []string{"level"}}
	for _, rung := range look.Rungs {
		t.Columns = append(t.Columns, rung.Label)
	}
	for k := 0; k < len(look.Rungs[0].Powers); k += 3 {
		cells := []string{format.Fixed(MinimumLevel+float64(k)*levelStep, 0) + " dB"}
		for _, rung := range look.Rungs {
			cells = append(cells, string(rung.Powers[k].Class))
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}
