package report

import (
	"fmt"

	"quietcross/dsp/hearing"
	"quietcross/reports/audibility"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
)

// Where and through what each bias is heard: the probability of noticing over time, all
// rungs in one figure, and for each rung that is predicted audible the picture of what
// stands over the masked threshold.

// Size of the figure over time, px.
const courseWidth, courseHeight = 440, 200

// heardFigure draws when each rung is predicted to be noticed; nil where nothing was
// predicted.
func heardFigure(r *Report, item *Item, name string) []Figure {
	f := &plot.Figure{
		Name: name + "-when", Title: "Noticed over time", Width: courseWidth, Height: courseHeight,
		X:     plot.Axis{Label: "time", Unit: "s", SI: true, Lo: 0, Hi: item.Seconds()},
		Y:     plot.Axis{Label: "noticed", Unit: "%", Lo: 0, Hi: 100},
		Rules: []plot.Rule{{At: 100 * audibility.DefaultLimit, Label: "limit"}},
	}
	for k := range item.Renderings {
		d := item.Renderings[k].Detection
		if d == nil || len(d.Course.Probability) == 0 {
			continue
		}
		t := rungTrace(r, k)
		t.X, t.Y = d.Course.percent(item.Seconds())
		f.Traces = append(f.Traces, t)
	}
	if len(f.Traces) == 0 {
		return nil
	}
	return []Figure{draw(f, "Where a line lies over the limit, that bias is predicted to be heard there. Evidence is gathered over some tenths of a second.")}
}

// percent returns a course up to an end, s, for drawing: times and percentages.
func (c *Course) percent(end float64) (x, y []float64) {
	for i, p := range c.Probability {
		if at := c.Start + c.Step*float64(i); at <= end {
			x, y = append(x, at), append(y, 100*p)
		}
	}
	return x, y
}

// excessPanels draws the picture of each rung that is predicted to be heard.
func excessPanels(r *Report, item *Item, name string) []Panel {
	var list []Panel
	for k := range item.Renderings {
		rendering := &item.Renderings[k]
		d := rendering.Detection
		if d == nil || !d.Heard() || rendering.Picture == nil {
			continue
		}
		f := audibility.ExcessFigure(fmt.Sprintf("%s-excess-%d", name, k), "What stands out, "+r.Rungs[k].Label, rendering.Picture,
			plot.Rule{At: d.When.First, Vertical: true, Label: "first heard"})
		f.Width, f.Height = residueWidth, residueHeight
		list = append(list, Panel{Rung: k, Figure: draw(f, excessCaption(r.Rungs[k].Label, d))})
	}
	return list
}

// excessCaption says where a rung stands out.
func excessCaption(label string, d *Detection) string {
	return fmt.Sprintf("%s: heard first at %s s; strongest from %s to %s, %s over the masked threshold, through %s",
		label, format.Fixed(d.When.First, 1), format.Quantity(d.Strongest.Low, "Hz"), format.Quantity(d.Strongest.High, "Hz"),
		format.DB(d.Strongest.Excess), through(d.Strongest.Through))
}

// through says in words what a difference stands out through.
func through(t hearing.Through) string {
	switch t {
	case hearing.ThroughQuiet:
		return "nothing but the threshold in quiet"
	case hearing.ThroughRoom:
		return "the noise of the room"
	case hearing.ThroughAftermath:
		return "what programme that has just ended still masks"
	case hearing.ThroughSkirt:
		return "what programme in other bands masks"
	}
	return "programme in the same band"
}
