package audibility

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/level"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// The map of a material: what is noticed over current and level, as data and as drawing.

// Grid is the map of one material.
type Grid struct {
	Material string `json:"material"`
	// Quiescent are the columns, A, ascending, and Levels the rows, descending.
	Quiescent []float64  `json:"quiescent_a"`
	Levels    []level.DB `json:"levels_db"`
	// Cells are indexed [row][column].
	Cells [][]Cell `json:"cells"`
	// Thresholds holds for each row that of [Finding.Threshold], or nil.
	Thresholds []*Threshold `json:"thresholds"`
}

// Cell is one place of a grid.
type Cell struct {
	// Known is false where nothing is known, since the current has no rendering; Read tells
	// that the figures are read between two renderings, see [Finding.At].
	Known     bool    `json:"known"`
	Read      bool    `json:"read,omitempty"`
	DPrime    float64 `json:"d_prime"`
	Detection float64 `json:"detection"`
	Bias      float64 `json:"bias_v"`
}

// Grids arranges findings that were made with the same options into one grid a
// material, in the order in which the materials first appear. Columns are no current at
// all and those of the lattice.
func Grids(findings []Finding, o Options) ([]Grid, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	columns := o.currents()
	var grids []Grid
	for _, f := range findings {
		i := slices.IndexFunc(grids, func(g Grid) bool { return g.Material == f.Material })
		if i < 0 {
			i = len(grids)
			grids = append(grids, Grid{Material: f.Material, Quiescent: columns})
		}
		grids[i].insert(&f)
	}
	return grids, nil
}

// insert adds a finding as a row at the place of its level.
func (g *Grid) insert(f *Finding) {
	row, _ := slices.BinarySearchFunc(g.Levels, f.Level, func(a, b level.DB) int { return cmp.Compare(b, a) })
	cells := make([]Cell, len(g.Quiescent))
	for i, quiescent := range g.Quiescent {
		if p, read, ok := f.At(quiescent); ok {
			cells[i] = Cell{Known: true, Read: read, DPrime: p.DPrime, Detection: p.Detection, Bias: p.Bias}
		}
	}
	g.Levels = slices.Insert(g.Levels, row, f.Level)
	g.Cells = slices.Insert(g.Cells, row, cells)
	g.Thresholds = slices.Insert(g.Thresholds, row, f.Threshold)
}

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
		Desc: "Probability of noticing over quiescent current and level; the markers are the thresholds.",
		X:    plot.Axis{Label: "quiescent current", Unit: "A", SI: true, Log: true, Lo: columns[0] / step, Hi: columns[len(columns)-1] * step},
		Y:    plot.Axis{Label: "level", Unit: "dB", Lo: float64(g.Levels[rows-1]) - half, Hi: float64(g.Levels[0]) + half},
		Heat: heat,
	}
	if trace := thresholdTrace(g); len(trace.X) > 0 {
		f.Traces = []plot.Trace{trace}
	}
	return sheet.Figure{Figure: f, Caption: "Dark: predicted to be noticed. Markers: the threshold current of each level."}, true
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
