package audibility

import (
	"fmt"
	"math"

	"quietcross/dsp/hearing"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// The picture of what stands out: the excess over the masked threshold against time and
// frequency. The model's bands are one ERB wide; the rows drawn are even on a
// logarithmic scale, each taking the band that its middle lies in.

// pictureRows is the number of rows drawn, pictureTop the excess at the dark end, dB.
const (
	pictureRows = 72
	pictureTop  = 20
)

// ExcessFigure draws a picture of a piece; vertical rules mark moments, s.
func ExcessFigure(name, title string, p *hearing.Picture, moments ...plot.Rule) *plot.Figure {
	low, high := p.Edges[0], p.Edges[len(p.Edges)-1]
	heat := &plot.Heat{
		Cols: max(1, len(p.Columns)), Rows: pictureRows,
		Lo: hearing.PictureFloor, Hi: pictureTop, Label: "over the masked threshold", Unit: "dB",
	}
	band := 0
	for row := range pictureRows {
		f := low * math.Pow(high/low, (float64(row)+0.5)/pictureRows)
		for p.Edges[band+1] < f {
			band++
		}
		for _, column := range p.Columns {
			heat.Z = append(heat.Z, min(column[band], pictureTop))
		}
	}
	if len(p.Columns) == 0 {
		heat.Z = make([]float32, pictureRows)
	}
	return &plot.Figure{
		Name: name, Title: title,
		Desc:  "How far the difference stands over the masked threshold, against time and frequency.",
		X:     plot.Axis{Label: "time", Unit: "s", Lo: 0, Hi: p.Step * float64(heat.Cols)},
		Y:     plot.Axis{Label: "frequency", Unit: "Hz", SI: true, Log: true, Lo: low, Hi: high},
		Heat:  heat,
		Rules: moments,
	}
}

// excessFigure is the picture of a finding, at the last current that is heard.
func excessFigure(n, material int, f Finding) sheet.Figure {
	p, _ := f.LastAudible()
	figure := ExcessFigure(fmt.Sprintf("excess-%d-%d", material, n), "What stands out: "+f.Material, f.Picture,
		plot.Rule{At: p.When.First, Vertical: true, Label: "first heard"})
	return sheet.Figure{Figure: figure, Caption: fmt.Sprintf(
		"%s at %s, through %s: how far bands one ERB wide stand over the masked threshold. Bands add up: many under 0 dB can be heard together.",
		f.Material, format.DB(f.Level), format.Quantity(p.Quiescent, "A"))}
}
