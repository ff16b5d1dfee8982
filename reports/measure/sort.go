package measure

import (
	"sort"

	"quietcross/reports/view/plot"
)

// sortByX puts the points of a trace in rising order of X: products of two tones
// come by order, not by frequency.
func sortByX(t *plot.Trace) { sort.Sort((*rising)(t)) }

type rising plot.Trace

func (r *rising) Len() int           { return len(r.X) }
func (r *rising) Less(i, j int) bool { return r.X[i] < r.X[j] }
func (r *rising) Swap(i, j int) {
	r.X[i], r.X[j] = r.X[j], r.X[i]
	r.Y[i], r.Y[j] = r.Y[j], r.Y[i]
}
