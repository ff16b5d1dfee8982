package quiescent

import (
	"cmp"
	"slices"

	"quietcross/dsp/level"
)

// Mark is one stage at one current: what it draws at rest, and how far the worst
// of its differences lies over or under the masked threshold.
type Mark struct {
	Stage     string   `json:"stage"`
	Quiescent float64  `json:"quiescent_a"`
	Heat      float64  `json:"heat_w"`    // drawn at rest, bias parts included, W
	Worst     level.DB `json:"excess_db"` // 0 where d' is 1
	Detection float64  `json:"detection"`
}

// mark returns the mark of a rung; false for one that has none.
func mark(r *Result, rung *Rung) (Mark, bool) {
	heard, ok := rung.Worst()
	if !ok || rung.Refusal != "" || rung.Rest.Runaway() || heard.DPrime == 0 {
		return Mark{}, false
	}
	return Mark{
		Stage: r.Stage, Quiescent: rung.Quiescent, Heat: rung.Rest.Supply,
		Worst: level.FromPower(heard.DPrime), Detection: heard.Detection,
	}, true
}

// marks returns the marks of a stage in rising order of heat.
func marks(r *Result) []Mark {
	var list []Mark
	for i := range r.Rungs {
		if m, ok := mark(r, &r.Rungs[i]); ok && m.Heat > 0 {
			list = append(list, m)
		}
	}
	slices.SortFunc(list, func(a, b Mark) int { return cmp.Compare(a.Heat, b.Heat) })
	return list
}

// frontier returns the marks that no other beats in both heat and audibility.
func frontier(results []*Result) []Mark {
	var all []Mark
	for _, r := range results {
		all = append(all, marks(r)...)
	}
	slices.SortFunc(all, func(a, b Mark) int {
		return cmp.Or(cmp.Compare(a.Heat, b.Heat), cmp.Compare(a.Worst, b.Worst))
	})
	var list []Mark
	for _, m := range all {
		if len(list) == 0 || m.Worst < list[len(list)-1].Worst {
			list = append(list, m)
		}
	}
	return list
}
