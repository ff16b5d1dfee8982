package network

import "math"

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
	current      []bool      // by active variable: it is a branch current
	active       []int       // active index of each variable; -1: eliminated
	drive        []int       // source of each driven node, in active order
	recover      [][]float64 // by eliminated variable: coefficients as in a row of matrix
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

// magnitude bounds the terms of active equation i.
func (s *system) magnitude(i int, x []float64) float64 {
	sum := 0.0
	for j, c := range s.matrix[i*s.width() : i*s.width()+s.kept+s.driven] {
		sum += math.Abs(c * x[j])
	}
	return sum
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
		for i, c := range s.recover[variable] {
			row[i] += sign * c
		}
	}
	add(p, 1)
	add(q, -1)
	return row
}
