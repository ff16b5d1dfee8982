package statistics

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Effect is one line of an analysis of variance.
type Effect struct {
	Name    string
	Squares float64 // sum of squares
	Freedom int     // degrees of freedom
	F       float64 // NaN for the line that the others are compared with last
	P       float64 // NaN likewise
}

// ErrUnbalanced: a layout that is not full, or has no two rows, columns or replicates.
var ErrUnbalanced = errors.New("statistics: the analysis of variance needs every listener to have graded every item equally often, two or more of each")

// TwoWay analyses grades indexed [listener][item][round], a full layout, with listeners
// as a sample of a population and items as fixed: the items are tested against their
// interaction with the listeners, so that a claim about items holds for other listeners
// too; listeners and interaction are tested against the rounds (Scheffé, The Analysis of
// Variance, 1959, mixed model). With one round the interaction is the error.
func TwoWay(y [][][]float64) ([]Effect, error) {
	a, b, n, ok := layout(y)
	if !ok {
		return nil, ErrUnbalanced
	}
	rows, columns, cells := make([]float64, a), make([]float64, b), make([][]float64, a)
	grand := 0.0
	for i := range y {
		cells[i] = make([]float64, b)
		for j := range y[i] {
			m := stat.Mean(y[i][j], nil)
			cells[i][j] = m
			rows[i] += m / float64(b)
			columns[j] += m / float64(a)
			grand += m / float64(a*b)
		}
	}
	var ssA, ssB, ssAB, ssE float64
	for i := range y {
		ssA += float64(b*n) * (rows[i] - grand) * (rows[i] - grand)
		for j := range y[i] {
			d := cells[i][j] - rows[i] - columns[j] + grand
			ssAB += float64(n) * d * d
			for _, v := range y[i][j] {
				ssE += (v - cells[i][j]) * (v - cells[i][j])
			}
		}
	}
	for _, c := range columns {
		ssB += float64(a*n) * (c - grand) * (c - grand)
	}
	dfA, dfB, dfAB, dfE := a-1, b-1, (a-1)*(b-1), a*b*(n-1)
	effects := []Effect{
		against("item", ssB, dfB, ssAB, dfAB),
		against("listener", ssA, dfA, ssE, dfE),
		against("listener by item", ssAB, dfAB, ssE, dfE),
		against("rounds", ssE, dfE, 0, 0),
	}
	if n == 1 { // no rounds to compare with
		effects = []Effect{effects[0], against("listener", ssA, dfA, ssAB, dfAB), against("listener by item", ssAB, dfAB, 0, 0)}
	}
	return effects, nil
}

// against tests an effect against an error.
func against(name string, ss float64, df int, errorSS float64, errorDF int) Effect {
	e := Effect{Name: name, Squares: ss, Freedom: df, F: math.NaN(), P: math.NaN()}
	if errorDF > 0 && errorSS > 0 {
		e.F = ss / float64(df) / (errorSS / float64(errorDF))
		e.P = distuv.F{D1: float64(df), D2: float64(errorDF)}.Survival(e.F)
	}
	return e
}

// layout returns the numbers of listeners, items and rounds of a full layout.
func layout(y [][][]float64) (a, b, n int, ok bool) {
	if len(y) < 2 || len(y[0]) < 2 {
		return 0, 0, 0, false
	}
	a, b, n = len(y), len(y[0]), len(y[0][0])
	for _, row := range y {
		if len(row) != b {
			return 0, 0, 0, false
		}
		for _, cell := range row {
			if len(cell) != n {
				return 0, 0, 0, false
			}
		}
	}
	return a, b, n, n > 0
}
