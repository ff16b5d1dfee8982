package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"quietcross/dsp/level"

	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
)

// residues are spectrograms of the residuals, all with one scale.
type residues struct {
	Panels []Panel
	// Under says which of them lie wholly under that scale.
	Under string
}

// residueFigures draws the spectrograms of an item.
func residueFigures(r *Report, item *Item, name string) residues {
	top := math.Inf(-1)
	for k := range item.Renderings {
		if s := item.Renderings[k].Residue; s != nil {
			top = max(top, strongestIn(s))
		}
	}
	if math.IsInf(top, -1) {
		return residues{}
	}
	top = 10 * math.Ceil(top/10)
	var list residues
	var hidden []string
	for k := range item.Renderings {
		s := item.Renderings[k].Residue
		switch {
		case s == nil:
		case strongestIn(s) < top-residueDepth:
			hidden = append(hidden, r.Rungs[k].Label)
		default:
			f := residueFigure(s, top)
			under := strip(fmt.Sprintf("%s-heard-%d", name, k), s.Seconds, item.Renderings[k].Detection)
			if under != "" {
				f.X.Label, f.X.Unit = "", "" // the strip has them
			}
			f.Name, f.Title = fmt.Sprintf("%s-residue-%d", name, k), "Residual over time, "+r.Rungs[k].Label
			list.Panels = append(list.Panels, Panel{
				k, draw(f, residueCaption(r.Rungs[k].Label, &item.Renderings[k], item)),
				under,
			})
		}
	}
	if len(hidden) > 0 {
		list.Under = fmt.Sprintf("Not drawn, for all of it lies under %s: %s.",
			format.Decibels(level.DB(top-residueDepth), "dBFS"), strings.Join(hidden, ", "))
	}
	return list
}

func residueFigure(s *Spectrogram, top float64) *plot.Figure {
	return &plot.Figure{
		Width: residueWidth, Height: residueHeight,
		X:    plot.Axis{Label: "time", Unit: "s", SI: true, Lo: 0, Hi: s.Seconds},
		Y:    plot.Axis{Label: "frequency", Unit: "Hz", SI: true, Log: true, Lo: s.Low, Hi: s.High},
		Heat: &plot.Heat{Cols: s.Cols, Rows: s.Rows, Z: s.Level, Lo: top - residueDepth, Hi: top, Unit: "dBFS"},
	}
}

func residueCaption(label string, r *Rendering, item *Item) string {
	if !r.Passes() {
		return label + ": next to nothing passes"
	}
	text := label + ", residual " + residualText(r) + " re " + item.Noun()
	if r.Detection != nil {
		text += "; noticed " + probability(r.Detection.Probability)
	}
	return text
}

// strongestIn is the highest level of a spectrogram.
func strongestIn(s *Spectrogram) float64 {
	return float64(slices.Max(s.Level))
}

// residueDepth is the range of the spectrograms, dB.
const residueDepth = 90

// Panel is a figure that belongs to one rung, and a strip with the same time axis
// to stand under it; "" for none.
type Panel struct {
	Rung int
	Figure
	Strip template.HTML
}
