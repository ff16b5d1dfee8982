package report

import (
	"cmp"
	"slices"
	"strings"
)

// split parts the labels of an item's rungs, by rising current, into those at which
// the difference is predicted to be heard and those at which it is not. It is
// falling if all of the former lie below the latter.
func split(r *Report, item *Item) (heard, not []string, falling bool) {
	falling = true
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
	return heard, not, falling
}

// clearFrom is the minimum bias of the ladder from which on the difference is not
// predicted to be heard.
func clearFrom(r *Report, item *Item) string {
	switch heard, not, falling := split(r, item); {
	case len(heard)+len(not) == 0:
		return "–"
	case len(not) == 0:
		return "none of these"
	case !falling:
		return "more than one range"
	default:
		return not[0]
	}
}

// headline says at which of the ladder's biases the difference is predicted to be
// heard; "" where nothing was predicted.
func headline(r *Report, item *Item) string {
	heard, not, falling := split(r, item)
	var text string
	switch {
	case len(heard)+len(not) == 0:
		return ""
	case len(heard) == 0:
		text = "Not predicted audible at " + enumerate(not)
	case len(not) == 0:
		text = "Predicted audible at " + enumerate(heard)
	case falling:
		text = "Predicted audible up to " + heard[len(heard)-1] + ", not predicted audible from " + not[0] + " on"
	default:
		text = "Predicted audible at " + enumerate(heard) + ", not predicted audible at " + enumerate(not)
	}
	return text + " (" + playback(r) + ")."
}

// byCurrent returns the rungs by rising quiescent current.
func byCurrent(r *Report) []int {
	order := make([]int, len(r.Rungs))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(r.Rungs[a].Quiescent, r.Rungs[b].Quiescent) })
	return order
}

// enumerate joins names as a sentence does. There is at least one.
func enumerate(names []string) string {
	last := len(names) - 1
	if last == 0 {
		return names[0]
	}
	return strings.Join(names[:last], ", ") + " and " + names[last]
}
