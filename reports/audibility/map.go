package audibility

import (
	"fmt"
	"math"

	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// mapFigure draws the probability over quiescent current and level, with the
// threshold as a trace. It needs two levels, and two currents above zero, evenly
// spaced on a logarithmic scale as a search lays them out.
func mapFigure(index int, g Grid) (sheet.Figure, bool) {
	first := 0
	for first < len(g.Quiescent) && g.Quiescent[first] <= 0 {
		first++
	}
	columns := g.Quiescent[first:]
	if len(columns) < 2 || len(g.Levels) < 2 || !even(g) {
		return sheet.Figure{}, false
	}
	step := math.Sqrt(columns[1] / columns[0])
	rows := len(g.Levels)
	half := float64(g.Levels[0]-g.Levels[rows-1]) / float64(rows-1) / 2
	heat := &plot.Heat{Cols: len(columns), Rows: rows, Lo: 0, Hi: 1, Label: "probability"}
	for r := rows - 1; r >= 0; r-- { // levels fall; the map's rows rise
		for c := range columns {
			z := float32(math.NaN())
			if cell := g.Cells[r][first+c]; cell.Known {
				z = float32(cell.Detection)
			}
			heat.Z = append(heat.Z, z)
		}
	}
	f := &plot.Figure{
		Name: fmt.Sprintf("map-%d", index), Title: "Map of detection: " + g.Material,
		Desc: "Probability of detection over quiescent current and level; the line is the threshold.",
		X:    plot.Axis{Label: "quiescent current", Unit: "A", SI: true, Log: true, Lo: columns[0] / step, Hi: columns[len(columns)-1] * step},
		Y:    plot.Axis{Label: "level", Unit: "dB", Lo: float64(g.Levels[rows-1]) - half, Hi: float64(g.Levels[0]) + half},
		Heat: heat,
	}
	if trace := thresholdTrace(g); len(trace.X) > 0 {
		f.Traces = []plot.Trace{trace}
	}
	return sheet.Figure{Figure: f, Caption: "Dark: predicted to be detected. Markers: the threshold current of each level."}, true
}

// even tells that the levels are evenly spaced, so that rows are equally high.
func even(g Grid) bool {
	for i := 2; i < len(g.Levels); i++ {
		if math.Abs(float64((g.Levels[i]-g.Levels[i-1])-(g.Levels[1]-g.Levels[0]))) > 1e-6 {
			return false
		}
	}
	return true
}

// thresholdTrace marks the threshold of each level, in rising order of current.
func thresholdTrace(g Grid) plot.Trace {
	t := plot.Trace{Label: "threshold", Kind: plot.Points, Look: plot.Look{Ink: true}}
	for r, crossing := range g.Thresholds {
		if crossing == nil || crossing.Quiescent <= 0 {
			continue
		}
		at := len(t.X)
		for at > 0 && t.X[at-1] > crossing.Quiescent {
			at--
		}
		t.X = append(t.X[:at], append([]float64{crossing.Quiescent}, t.X[at:]...)...)
		t.Y = append(t.Y[:at], append([]float64{float64(g.Levels[r])}, t.Y[at:]...)...)
	}
	return t
}
