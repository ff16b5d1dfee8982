package audibility

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// Correlation sets one simple number of renderings against the prediction: does
// more of it mean that more is heard?
type Correlation struct {
	// Number is the name of the simple number, Points how many renderings have
	// it.
	Number string `json:"number"`
	Points int    `json:"points"`
	// Rank is Spearman's rank correlation of the number with d', -1 to 1.
	Rank float64 `json:"rank"`
}

// Pool correlates the numbers over the points of many findings together: which
// number tracks audibility across materials and levels?
func Pool(findings []Finding) []Correlation {
	var all []Point
	for _, f := range findings {
		all = append(all, f.Curve...)
	}
	return correlate(all)
}

// correlate returns a correlation for each number, in the order of their names.
// Numbers without a correlation (fewer than three points, or no variation) are
// left out.
func correlate(points []Point) []Correlation {
	names := map[string]bool{}
	for _, p := range points {
		for name := range p.Numbers {
			names[name] = true
		}
	}
	var list []Correlation
	for _, name := range slices.Sorted(maps.Keys(names)) {
		var x, heard []float64
		for _, p := range points {
			if v, ok := p.Numbers[name]; ok {
				x, heard = append(x, v), append(heard, p.DPrime)
			}
		}
		if rank, ok := Spearman(x, heard); ok {
			list = append(list, Correlation{Number: name, Points: len(x), Rank: rank})
		}
	}
	return list
}

// Spearman returns the rank correlation of two equally long lists: Pearson's
// correlation of their ranks, equal values sharing the mean of theirs
// (C. Spearman, American Journal of Psychology 15, 1904). It returns false for
// fewer than three pairs or where one list does not vary, and panics if lengths
// differ.
func Spearman(x, y []float64) (rho float64, ok bool) {
	if len(x) != len(y) {
		panic("audibility: lists of different length")
	}
	if len(x) < 3 {
		return 0, false
	}
	rx, ry := ranks(x), ranks(y)
	mean := float64(len(x)+1) / 2
	var xx, yy, xy float64
	for i := range rx {
		a, b := rx[i]-mean, ry[i]-mean
		xx, yy, xy = xx+a*a, yy+b*b, xy+a*b
	}
	if xx == 0 || yy == 0 {
		return 0, false
	}
	return xy / math.Sqrt(xx*yy), true
}

// ranks returns the rank of each value, from 1, ties at the mean of theirs.
func ranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	rank := make([]float64, len(x))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && x[order[to]] == x[order[from]] {
			to++
		}
		for _, i := range order[from:to] {
			rank[i] = float64(from+to+1) / 2
		}
		from = to
	}
	return rank
}
