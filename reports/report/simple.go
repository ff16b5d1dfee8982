package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"quietcross/dsp/level"

	"quietcross/reports/view/format"
)

// A simple is one simple number as the page shows it.
type simple struct {
	title string
	unit  string // of its axis; "" for none
	log   bool
	write func(float64) string
}

// simples are keyed by the names of [SimpleNumbers].
var simples = map[string]simple{
	"thd":            {"THD", "%", true, percent},
	"weighted_thd":   {"468-weighted THD", "%", true, percent},
	"order_weighted": {"order-weighted", "%", true, percent},
	"gm":             {"Gm", "", true, func(v float64) string { return format.Number(v, 3) }},
	"flat_db":        {"residual", "dB", false, decibels},
	"a_db":           {"residual, A", "dB", false, decibels},
	"noise_468_db":   {"residual, 468", "dB", false, decibels},
}

func percent(v float64) string { return format.Percent(v, 3) }

func decibels(v float64) string { return format.DB(level.DB(v)) }

// tracking shows which simple numbers tell what is heard.
type tracking struct {
	Table *table
	Text  string
	// Refusals say which rungs have no Gm, and why.
	Refusals []string
}

// itemTracking sets the simple numbers of an item's rungs beside the prediction,
// and under them their rank correlation with it; nil when there are none.
func itemTracking(r *Report, item *Item) *tracking {
	t := &table{Head: []string{"setting", "d′"}}
	for _, number := range SimpleNumbers {
		t.Head = append(t.Head, simples[number.Name].title)
	}
	some := false
	for k := range item.Renderings {
		rendering := &item.Renderings[k]
		line := detectionCells(rendering.Detection)[:1]
		for _, number := range SimpleNumbers {
			v, ok := number.Of(rendering)
			some = some || ok
			line = append(line, simpleCell(number.Name, v, ok))
		}
		t.Rows = append(t.Rows, row{r.Rungs[k].Label, line})
	}
	if !some {
		return nil
	}
	if len(item.Correlations) > 0 {
		line := append(cells(""), rhoCells(item.Correlations)...)
		t.Rows = append(t.Rows, row{"rank correlation", line})
	}
	return &tracking{t, ranking(item.Correlations, "these rungs"), refusals(r, item)}
}

// refusals list the rungs without a Gm.
func refusals(r *Report, item *Item) []string {
	var list []string
	for k := range item.Renderings {
		if s := item.Renderings[k].Sine; s != nil && s.GmRefusal != "" {
			list = append(list, "No Gm at "+r.Rungs[k].Label+": "+strings.TrimPrefix(s.GmRefusal, "distortion: ")+".")
		}
	}
	return list
}

func simpleCell(name string, v float64, ok bool) cell {
	if !ok || math.IsNaN(v) {
		return cell{Text: "–"}
	}
	return cell{Text: simples[name].write(v)}
}

// rhoCells are the correlations in the order of the simple numbers.
func rhoCells(list []Correlation) []cell {
	var line []cell
	for _, number := range SimpleNumbers {
		c := cell{Text: "–"}
		for _, have := range list {
			if have.Number == number.Name {
				c = cell{Text: format.Fixed(have.Rho, 2), Strong: true}
			}
		}
		line = append(line, c)
	}
	return line
}

// alike is the difference of correlations under which numbers do equally well.
const alike = 0.02

// ranking names the numbers that follow the prediction most and least closely.
func ranking(list []Correlation, over string) string {
	if len(list) < 2 {
		return ""
	}
	byRho := func(a, b Correlation) int { return cmp.Compare(a.Rho, b.Rho) }
	best, minimum := slices.MaxFunc(list, byRho), slices.MinFunc(list, byRho)
	if best.Rho-minimum.Rho < alike {
		return fmt.Sprintf("All of them rank %s much alike (rank correlation %s): in one piece at one level, more of one goes with more of the others. They part when material and level change.",
			over, format.Fixed(best.Rho, 2))
	}
	plain := ""
	i := slices.IndexFunc(list, func(c Correlation) bool { return c.Number == "thd" })
	if i >= 0 && list[i] != minimum && list[i] != best {
		plain = "; plain THD has " + format.Fixed(list[i].Rho, 2)
	}
	return fmt.Sprintf("Most closely, %s follows what is heard over %s (rank correlation %s), and least, %s (%s)%s.",
		named(best), over, format.Fixed(best.Rho, 2), named(minimum), format.Fixed(minimum.Rho, 2), plain)
}

func named(c Correlation) string { return simples[c.Number].title }

// pooled is the tracking over all items: a row a number, those that track best
// first; nil without correlations.
func pooled(r *Report) *tracking {
	if len(r.Correlations) == 0 || len(r.Items) < 2 {
		return nil
	}
	t := &table{Head: []string{"simple number", "rank correlation", "renderings", "within one item"}}
	list := slices.Clone(r.Correlations)
	slices.SortStableFunc(list, func(a, b Correlation) int { return cmp.Compare(b.Rho, a.Rho) })
	for _, c := range list {
		line := cells(format.Fixed(c.Rho, 2), format.Count(int64(c.Points)), within(r, c.Number))
		line[0].Strong = true
		t.Rows = append(t.Rows, row{named(c), line})
	}
	return &tracking{Table: t, Text: ranking(list, "all renderings")}
}

// within is the range of a number's correlations inside single items.
func within(r *Report, number string) string {
	b := newBounds()
	for i := range r.Items {
		for _, c := range r.Items[i].Correlations {
			if c.Number == number {
				b.add(c.Rho)
			}
		}
	}
	switch {
	case b.lo > b.hi:
		return "–"
	case b.hi-b.lo < 0.005:
		return format.Fixed(b.lo, 2)
	}
	return format.Fixed(b.lo, 2) + " to " + format.Fixed(b.hi, 2)
}
