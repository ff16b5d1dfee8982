package audibility

import (
	"cmp"
	"slices"

	"quietcross/dsp/level"
)

// Grid is the map of one material: probability over current and level.
type Grid struct {
	Material string `json:"material"`
	// Quiescent are the columns, A, ascending, and Levels the rows, descending.
	Quiescent []float64  `json:"quiescent_a"`
	Levels    []level.DB `json:"levels_db"`
	// Cells are indexed [row][column].
	Cells [][]Cell `json:"cells"`
	// Thresholds holds for each row the crossing that [Finding.Threshold] names,
	// or nil.
	Thresholds []*Crossing `json:"thresholds"`
}

// Cell is one place of a grid.
type Cell struct {
	// Known is false where there is no rendering.
	Known     bool     `json:"known"`
	Detection float64  `json:"detection"`
	Bias      float64  `json:"bias_v"`
	Noise     level.DB `json:"noise_to_mask_db"`
}

// Grids arranges findings that were made with the same options into one grid a
// material, in the order in which the materials first appear. Columns are the
// currents that every curve was asked for, not those found by narrowing.
func Grids(findings []Finding, o Options) ([]Grid, error) {
	if err := o.check(); err != nil {
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
	for _, p := range f.Curve {
		if i, ok := slices.BinarySearch(g.Quiescent, p.Quiescent); ok {
			cells[i] = Cell{true, p.Detection, p.Bias, p.NoiseToMask}
		}
	}
	g.Levels = slices.Insert(g.Levels, row, f.Level)
	g.Cells = slices.Insert(g.Cells, row, cells)
	g.Thresholds = slices.Insert(g.Thresholds, row, f.Threshold)
}
