package page

import (
	"cmp"
	"slices"
	"strings"

	"quietcross/reports"
)

// headline says at which of the ladder's biases the difference is predicted to be
// heard; "" where nothing was predicted.
func headline(r *reports.Report, item *reports.Item) string {
	var heard, not []string
	falling := true // heard at the least currents, and at none above
	for _, k := range byCurrent(r) {
		d := item.Renderings[k].Detection
		switch {
		case d == nil:
		case d.Heard():
			falling = falling && len(not) == 0
			heard = append(heard, r.Rungs[k].Label)
		default:
			not = append(not, r.Rungs[k].Label)
		}
	}
	var text string
	switch {
	case len(heard)+len(not) == 0:
		return ""
	case len(heard) == 0:
		text = "Not predicted audible at " + list(not)
	case len(not) == 0:
		text = "Predicted audible at " + list(heard)
	case falling:
		text = "Predicted audible up to " + heard[len(heard)-1] + ", not predicted audible from " + not[0] + " on"
	default:
		text = "Predicted audible at " + list(heard) + ", not predicted audible at " + list(not)
	}
	return text + " (" + playback(r) + ")."
}

// byCurrent returns the rungs by rising quiescent current.
func byCurrent(r *reports.Report) []int {
	order := make([]int, len(r.Rungs))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(r.Rungs[a].Quiescent, r.Rungs[b].Quiescent) })
	return order
}

// list joins names as a sentence does. There is at least one.
func list(names []string) string {
	last := len(names) - 1
	if last == 0 {
		return names[0]
	}
	return strings.Join(names[:last], ", ") + " and " + names[last]
}
