package report

import (
	"math"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/dsp/level"

	"quietcross/reports/view/format"
	"quietcross/stage"
)

// table is a table of text; the first cell of a row is its head.
type table struct {
	Head []string
	Rows []row
}

// row is one line.
type row struct {
	Head  string
	Cells []cell
}

// cell is one value; a faint one does not stand clear of the noise.
type cell struct {
	Text          string
	Faint, Strong bool
}

func cells(texts ...string) []cell {
	list := make([]cell, len(texts))
	for i, text := range texts {
		list[i].Text = text
	}
	return list
}

// overview is the level of every residual, a row an item; nil for a single item.
func overview(r *Report) *table {
	if len(r.Items) < 2 {
		return nil
	}
	t := &table{Head: []string{"item"}}
	for _, rung := range r.Rungs {
		t.Head = append(t.Head, rung.Label)
	}
	for i := range r.Items {
		item := &r.Items[i]
		line := row{Head: heading(item)}
		for k := range item.Renderings {
			line.Cells = append(line.Cells, cell{Text: residualText(&item.Renderings[k])})
		}
		t.Rows = append(t.Rows, line)
	}
	return t
}

// numbers is the table of what matters most, a row a rung.
func numbers(r *Report, item *Item) table {
	t := table{Head: []string{"setting", "bias", "quiescent", "d′", "noticed", "strongest", "first heard", "residual"}}
	tone := item.Source.Kind == "tone"
	if tone {
		t.Head = append(t.Head, "THD")
	}
	t.Head = append(t.Head, "BS.1387: detection", "noise to mask", "grade")
	for k, rendering := range item.Renderings {
		rung := r.Rungs[k]
		line := cells(format.Quantity(rung.Bias, "V"), format.Quantity(rung.Quiescent, "A"))
		line = append(line, detectionCells(rendering.Detection)...)
		line = append(line, cell{Text: residualText(&rendering)})
		if tone {
			line = append(line, thdCell(rendering.Harmonics))
		}
		line = append(line, standardCells(rendering.Detection)...)
		t.Rows = append(t.Rows, row{rung.Label, line})
	}
	return t
}

// levels is the table of gains and levels, a row a track.
func levels(r *Report, item *Item) table {
	t := table{Head: []string{"setting", "gain", "applied", "level", "loudness", "peak", "clipped", "DC added", "idle power"}}
	track := func(head, gain, applied string, of corpus.Track, dc, idle string) {
		line := cells(gain, applied)
		line = append(line, trackCells(of.RMS, of.Loudness)...)
		t.Rows = append(t.Rows, row{head, append(line, cells(peakText(of.Peak), format.Count(of.Clipped), dc, idle)...)})
	}
	track("reference", "1", "", item.Reference, "", "")
	for k, rendering := range item.Renderings {
		rung := r.Rungs[k]
		track(rung.Label, format.Number(rendering.Gain, 4), format.DB(rendering.Applied), rendering.Track,
			format.Quantity(rendering.Residual.Offset, "V"), format.Quantity(rung.IdleDissipation, "W"))
	}
	return t
}

func trackCells(rms, loudness level.DB) []cell {
	text := "under the gate"
	if !math.IsInf(float64(loudness), 0) && !math.IsNaN(float64(loudness)) {
		text = format.Decibels(loudness, "LUFS")
	}
	return cells(format.Decibels(rms, "dBFS"), text)
}

// residualText is the level of a residual, which means nothing when nothing
// passes.
func residualText(r *Rendering) string {
	if !r.Passes() {
		return "–"
	}
	return format.DB(r.Residual.Level)
}

func peakText(l level.DB) string { return format.Decibels(l, "dBFS") }

func thdCell(h *Harmonics) cell {
	if h == nil {
		return cell{Text: "–"}
	}
	return cell{Text: THD(h), Faint: h.buried()}
}

// powerTable says where the power goes, a row a rung; nil when no rendering has
// that.
func powerTable(r *Report, item *Item) *table {
	t := &table{Head: []string{
		"setting", "class", "conducts", "from the supplies", "into the load", "heat of the devices", "efficiency", "hottest junction",
	}}
	cone := item.MovesCone()
	if cone {
		t.Head = append(t.Head, "cone, to either side")
	}
	for k, rendering := range item.Renderings {
		p := rendering.Power
		if p == nil && (rendering.Sine == nil || rendering.Sine.Class == "") {
			continue
		}
		line := append(classCells(rendering.Sine), cells("–", "–", "–", "–", "–")...)
		if p != nil {
			line = append(line[:2], cells(format.Quantity(p.Supply, "W"), format.Quantity(p.Load, "W"),
				format.Quantity(p.Dissipation, "W"), format.Percent(p.Efficiency, 3), settled(p.Settled))...)
		}
		if cone {
			line = append(line, coneCell(p))
		}
		t.Rows = append(t.Rows, row{r.Rungs[k].Label, line})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

func coneCell(p *corpus.Power) cell {
	if p == nil {
		return cell{Text: "–"}
	}
	return cell{Text: format.Quantity(p.Excursion, "m")}
}

// classCells are the class of the output devices and their minimum conduction
// angle, which means nothing where none conducts.
func classCells(s *Sine) []cell {
	switch {
	case s == nil || s.Class == "":
		return cells("–", "–")
	case s.Class == stage.Silent:
		return cells(string(s.Class), "–")
	}
	return cells(string(s.Class), format.Fixed(s.Conduction*180/math.Pi, 0)+"°")
}

// harmonicTable lists orders 2 to 20 re the fundamental, a column a rung; nil
// when no rendering has harmonics.
func harmonicTable(r *Report, item *Item) *table {
	t := table{Head: []string{"order", "frequency"}}
	var most *Harmonics
	for k, rendering := range item.Renderings {
		t.Head = append(t.Head, r.Rungs[k].Label)
		if h := rendering.Harmonics; h != nil && (most == nil || len(h.Orders) > len(most.Orders)) {
			most = h
		}
	}
	if most == nil {
		return nil
	}
	for i, o := range most.Orders {
		line := cells(format.Digits(o.Frequency, 4, "Hz"))
		for _, rendering := range item.Renderings {
			line = append(line, orderCell(rendering.Harmonics, i))
		}
		t.Rows = append(t.Rows, row{format.Count(int64(o.Order)), line})
	}
	thd := cells("")
	for _, rendering := range item.Renderings {
		thd = append(thd, thdCell(rendering.Harmonics))
	}
	t.Rows = append(t.Rows, row{"THD", thd})
	return &t
}

func orderCell(h *Harmonics, i int) cell {
	if h == nil || i >= len(h.Orders) {
		return cell{Text: "–"}
	}
	o := h.Orders[i]
	return cell{Text: format.DB(o.Level), Faint: !o.Resolved}
}

// settled writes the junction temperature that an item would settle at for ever.
func settled(t *bias.Thermal) string {
	switch {
	case t == nil:
		return "–"
	case t.Settles():
		return format.Celsius(t.Junction)
	}
	return string(t.Verdict)
}
