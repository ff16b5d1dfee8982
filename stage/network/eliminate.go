package network

import (
	"fmt"
	"math"
	"slices"
)

// The linear part of a circuit is eliminated once: Gauss-Jordan steps with full pivoting,
// scaled by rows, on the dense matrix, take out every variable that no nonlinear device
// touches. What is left is kept in sparse rows, and the combination of active variables
// and sources that each eliminated variable is, to read it afterwards.

// eliminate reduces the assembly. It works in place on the full dense matrix by
// Gauss-Jordan steps with full pivoting among the linear equations.
func (a *assembly) eliminate() *system {
	full := a.dense()
	touched := a.touched()
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
	return a.gather(full, pivotRow)
}

// dense writes the assembly's equations out: variables, sources, grounding.
func (a *assembly) dense() [][]float64 {
	cols := a.variables + a.sources + 1
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
	for row, sum := range a.grounding {
		full[row][cols-1] = sum
	}
	return full
}

// touched marks the variables that must stay: driven ones, those in the equations
// of nonlinear devices, and the currents of stores that are left open.
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
	if a.mode == ported {
		for _, r := range a.reactances {
			touched[r.branch] = true
		}
	}
	return touched
}

func rowScales(full [][]float64) []float64 {
	scale := make([]float64, len(full))
	for i, row := range full {
		for _, x := range row[:len(row)-1] {
			scale[i] = max(scale[i], math.Abs(x))
		}
	}
	return scale
}

// pivot finds the maximum coefficient, relative to its row's own scale, among
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
func (a *assembly) gather(full [][]float64, pivotRow map[int]int) *system {
	s := &system{sources: a.sources, active: make([]int, a.variables), recover: make([]reading, a.variables)}
	kept, driven, rows := a.remaining(pivotRow)
	sortBySparsity(kept, full)
	rows = align(rows, kept)
	for _, v := range driven {
		s.drive = append(s.drive, int(a.circuit.driven[Node(v+1)]))
	}
	s.kept, s.driven = len(kept), len(driven)
	order := slices.Concat(kept, driven)
	for v := range s.active {
		s.active[v] = slices.Index(order, v)
	}
	for _, v := range order {
		s.current = append(s.current, a.currents[v])
	}
	for _, r := range slices.Concat(rows, driven) {
		row := pick(full[r], order, a.variables, 1)
		s.matrix = append(s.matrix, row[:s.width()]...)
		s.equations = append(s.equations, s.equation(s.active[r], row))
	}
	for v, r := range pivotRow {
		s.recover[v] = newReading(pick(full[r], order, a.variables, -1/full[r][v])[:s.width()], len(order))
	}
	return s
}

// sortBySparsity puts variables with few coefficients first, where elimination
// makes the fewest new ones: the inner collectors.
func sortBySparsity(kept []int, full [][]float64) {
	count := func(v int) int {
		n := 0
		for _, x := range full[v] {
			if x != 0 {
				n++
			}
		}
		return n
	}
	slices.SortStableFunc(kept, func(p, q int) int { return count(p) - count(q) })
}

// align orders equations like the variables: a device writes its currents into the
// equation at its node's place. Equations of no kept variable fill what is left.
func align(rows, kept []int) []int {
	var spare []int
	for _, r := range rows {
		if !slices.Contains(kept, r) {
			spare = append(spare, r)
		}
	}
	out := make([]int, len(kept))
	for i, v := range kept {
		if slices.Contains(rows, v) {
			out[i] = v
			continue
		}
		out[i], spare = spare[0], spare[1:]
	}
	return out
}

// remaining lists the kept variables, the driven ones, and the equations left.
func (a *assembly) remaining(pivotRow map[int]int) (kept, driven, rows []int) {
	taken := map[int]bool{}
	for _, r := range pivotRow {
		taken[r] = true
	}
	for v := range a.variables {
		if _, isDriven := a.circuit.driven[Node(v+1)]; isDriven && v < a.circuit.Nodes()-1 {
			driven = append(driven, v)
			continue
		}
		if _, eliminated := pivotRow[v]; !eliminated {
			kept = append(kept, v)
		}
		if !taken[v] {
			rows = append(rows, v)
		}
	}
	return kept, driven, rows
}

// pick returns the row's coefficients in active order, then of the sources and
// the grounding, scaled.
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

// system is a circuit's linear part with every variable eliminated that no
// nonlinear device touches. The remaining ("active") variables are ordered: kept
// unknowns, then driven nodes. Row i of matrix holds, for active equation i, the
// coefficients of the active variables and then of the sources.
//
// The sum of a row's voltage coefficients, its grounding, is carried through the
// elimination beside it. With it a row is evaluated from voltage differences, so
// that a milliohm between nodes at 40 V leaves no rounding of kiloamperes.
type system struct {
	kept, driven int
	sources      int
	matrix       []float64 // (kept+driven) x (kept+driven+sources)
	equations    []equation
	current      []bool    // by active variable: it is a branch current
	active       []int     // active index of each variable; -1: eliminated
	drive        []int     // source of each driven node, in active order
	recover      []reading // by eliminated variable: how it follows from active ones and sources
}

// width is the number of coefficients in a row of the system.
func (s *system) width() int { return s.kept + s.driven + s.sources }

// equation is one active equation without zeros.
type equation struct {
	grounding float64
	reference int // the active voltage that differences are taken from, or -1
	voltages  []term
	currents  []term
	sources   []term
}

// term is one coefficient of a sum.
type term struct {
	at    int
	value float64
}

// equation takes a row apart.
func (s *system) equation(own int, row []float64) equation {
	eq := equation{grounding: row[s.width()], reference: s.chooseReference(own, row)}
	for j, c := range row[:s.kept+s.driven] {
		switch {
		case c == 0 || j == eq.reference:
		case s.current[j]:
			eq.currents = append(eq.currents, term{j, c})
		default:
			eq.voltages = append(eq.voltages, term{j, c})
		}
	}
	for j, c := range row[s.kept+s.driven : s.width()] {
		if c != 0 {
			eq.sources = append(eq.sources, term{j, c})
		}
	}
	return eq
}

// chooseReference returns a row's own node, or for a branch the first voltage in
// its equation; -1 if there is none.
func (s *system) chooseReference(own int, row []float64) int {
	if own >= 0 && !s.current[own] {
		return own
	}
	for i, isCurrent := range s.current {
		if !isCurrent && row[i] != 0 {
			return i
		}
	}
	return -1
}

// fromActive evaluates the part of active equation i that the active variables
// make.
func (s *system) fromActive(i int, x []float64) float64 {
	eq := &s.equations[i]
	base := 0.0
	if eq.reference >= 0 {
		base = x[eq.reference]
	}
	sum := eq.grounding * base
	for _, t := range eq.voltages {
		sum += t.value * (x[t.at] - base)
	}
	for _, t := range eq.currents {
		sum += t.value * x[t.at]
	}
	return sum
}

// scales returns the maximum linear coefficient of each kept equation.
func (s *system) scales() []float64 {
	list := make([]float64, s.kept)
	for i := range list {
		for _, c := range s.matrix[i*s.width():][:s.kept] {
			list[i] = max(list[i], math.Abs(c))
		}
	}
	return list
}

// fromSources evaluates the part of active equation i that the sources make.
func (s *system) fromSources(i int, u []float64) float64 {
	sum := 0.0
	for _, t := range s.equations[i].sources {
		sum += t.value * u[t.at]
	}
	return sum
}

// combination returns the coefficients, by active variable and then by source, of
// the difference of two variables' values; either may be grounded.
func (s *system) combination(p, q int) []float64 {
	row := make([]float64, s.width())
	add := func(variable int, sign float64) {
		if variable == grounded {
			return
		}
		if i := s.active[variable]; i >= 0 {
			row[i] += sign
			return
		}
		for _, c := range s.recover[variable].active {
			row[c.at] += sign * c.value
		}
		for _, c := range s.recover[variable].source {
			row[s.kept+s.driven+c.at] += sign * c.value
		}
	}
	add(p, 1)
	add(q, -1)
	return row
}
