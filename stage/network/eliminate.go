package network

import (
	"fmt"
	"math"
)

// system is a circuit's linear part with every variable eliminated that no
// nonlinear device touches. The remaining ("active") variables are ordered: kept
// unknowns, then driven nodes. Row i of matrix holds, for active equation i, the
// coefficients of the active variables and then of the sources.
type system struct {
	kept, driven int
	sources      int
	matrix       []float64 // (kept+driven) x (kept+driven+sources)
	active       []int     // active index of each variable; -1: eliminated
	drive        []int     // source of each driven node, in active order
	recover      map[int][]float64
}

// width is the number of coefficients in a row of the system.
func (s *system) width() int { return s.kept + s.driven + s.sources }

// eliminate reduces the assembly. It works in place on the full dense matrix by
// Gauss-Jordan steps with full pivoting among the linear equations.
func (a *assembly) eliminate() *system {
	full := a.dense()
	touched := a.touched()
	cols := len(full[0])
	scale := rowScales(full)
	free := make([]bool, a.variables)
	for v := range free {
		free[v] = !touched[v]
	}
	freeRow := append([]bool(nil), free...)
	pivotRow := map[int]int{}
	for {
		r, c := pivot(full, scale, freeRow, free)
		if r < 0 {
			break
		}
		freeRow[r], free[c] = false, false
		pivotRow[c] = r
		for i := range full {
			if i != r && full[i][c] != 0 {
				subtract(full[i], full[r], full[i][c]/full[r][c], c)
			}
		}
	}
	return a.gather(full, pivotRow, cols)
}

// dense writes the assembly's equations out: variables, then sources.
func (a *assembly) dense() [][]float64 {
	cols := a.variables + len(a.circuit.sources)
	full := make([][]float64, a.variables)
	for i := range full {
		full[i] = make([]float64, cols)
	}
	for _, e := range a.entries {
		full[e.row][e.col] += e.value
	}
	for _, e := range a.inputs {
		full[e.row][a.variables+e.col] += e.value
	}
	return full
}

// touched marks the variables that must stay: driven ones, and those in the
// equations of nonlinear devices.
func (a *assembly) touched() []bool {
	touched := make([]bool, a.variables)
	for n := range a.circuit.driven {
		touched[a.node(n)] = true
	}
	for _, l := range a.loads {
		for _, v := range l.terminals() {
			if v != grounded {
				touched[v] = true
			}
		}
	}
	return touched
}

func rowScales(full [][]float64) []float64 {
	scale := make([]float64, len(full))
	for i, row := range full {
		for _, x := range row {
			scale[i] = max(scale[i], math.Abs(x))
		}
	}
	return scale
}

// pivot finds the greatest coefficient, relative to its row's own scale, among
// free rows and columns; r is -1 when none is clear of rounding.
func pivot(full [][]float64, scale []float64, freeRow, freeCol []bool) (r, c int) {
	r, c = -1, -1
	best := 1e-10
	for i, row := range full {
		if !freeRow[i] {
			continue
		}
		for j := range freeCol {
			if x := math.Abs(row[j]); freeCol[j] && x > best*scale[i] {
				r, c, best = i, j, x/scale[i]
			}
		}
	}
	return r, c
}

func subtract(row, pivot []float64, factor float64, col int) {
	for j, x := range pivot {
		row[j] -= factor * x
	}
	row[col] = 0
}

// gather collects the reduced system from the eliminated matrix.
func (a *assembly) gather(full [][]float64, pivotRow map[int]int, cols int) *system {
	s := &system{sources: cols - a.variables, active: make([]int, a.variables), recover: map[int][]float64{}}
	taken := map[int]bool{}
	for _, r := range pivotRow {
		taken[r] = true
	}
	var keptCols, drivenCols, rows []int
	for v := range a.variables {
		_, eliminated := pivotRow[v]
		src, isDriven := a.circuit.driven[Node(v+1)]
		switch {
		case v < a.circuit.Nodes()-1 && isDriven:
			drivenCols = append(drivenCols, v)
			s.drive = append(s.drive, int(src))
			continue
		case !eliminated:
			keptCols = append(keptCols, v)
		}
		if !taken[v] {
			rows = append(rows, v)
		}
	}
	s.kept, s.driven = len(keptCols), len(drivenCols)
	order := append(append([]int(nil), keptCols...), drivenCols...)
	rows = append(rows, drivenCols...)
	for v := range s.active {
		s.active[v] = -1
	}
	for i, v := range order {
		s.active[v] = i
	}
	for _, r := range rows {
		s.matrix = append(s.matrix, pick(full[r], order, a.variables, 1)...)
	}
	for v, r := range pivotRow {
		s.recover[v] = pick(full[r], order, a.variables, -1/full[r][v])
	}
	return s
}

// pick returns the row's coefficients in active order, sources last, scaled.
func pick(row []float64, order []int, variables int, factor float64) []float64 {
	out := make([]float64, 0, len(order)+len(row)-variables)
	for _, v := range order {
		out = append(out, factor*row[v])
	}
	for _, x := range row[variables:] {
		out = append(out, factor*x)
	}
	return out
}

// describe names a variable for an error.
func (a *assembly) describe(v int) string {
	if v < a.circuit.Nodes()-1 {
		return fmt.Sprintf("node %q", a.circuit.nodes[v+1])
	}
	return fmt.Sprintf("inner variable %d", v)
}
