package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"quietcross/dsp/level"

	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
)

// Figure is a drawing with its caption.
type Figure struct {
	SVG     template.HTML
	Caption string
}

// draw makes a figure of the page. What plot returns is safe markup: it escapes
// every text itself.
func draw(f *plot.Figure, caption string) Figure {
	f.Desc = caption
	return Figure{template.HTML(f.SVG()), caption}
}

// rungTrace starts the trace of a rung; the page hides traces by the index in
// data-rung.
func rungTrace(r *Report, k int) plot.Trace {
	return plot.Trace{Label: r.Rungs[k].Label, Rung: fmt.Sprint(k), Look: look(r, k)}
}

// look gives every rung its own colour, dash and marker; the optimum is a wide
// unbroken line.
func look(r *Report, k int) plot.Look {
	optimum := r.Rungs[k].IsOptimum()
	return plot.Look{Index: k, Wide: optimum, Solid: optimum}
}

// bounds gathers the range of values for an axis.
type bounds struct{ lo, hi float64 }

func newBounds() bounds { return bounds{math.Inf(1), math.Inf(-1)} }

// add takes finite values in.
func (b *bounds) add(values ...float64) {
	for _, v := range values {
		if !math.IsInf(v, 0) && !math.IsNaN(v) {
			b.lo, b.hi = min(b.lo, v), max(b.hi, v)
		}
	}
}

// padded returns an axis range a little wider than the values, and a small one
// around a single value or around zero when there is none.
func (b bounds) padded() (lo, hi float64) {
	if b.lo > b.hi {
		return -1, 1
	}
	margin := 0.06 * (b.hi - b.lo)
	if margin <= 1e-9*max(math.Abs(b.lo), math.Abs(b.hi)) {
		margin = max(0.01*math.Abs(b.hi), 1e-6)
	}
	return b.lo - margin, b.hi + margin
}

// decades returns an axis range in decibels: whole tens around the values, at
// most depth below the top.
func (b bounds) tens(depth float64) (lo, hi float64) {
	if b.lo > b.hi {
		return -depth, 0
	}
	hi = 10 * math.Ceil(b.hi/10+0.2)
	return min(max(10*math.Floor(b.lo/10), hi-depth), hi-20), hi
}

func floats(levels []level.DB) []float64 {
	out := make([]float64, len(levels))
	for i, l := range levels {
		out[i] = float64(l)
	}
	return out
}

// transferFigures are the transfer curve and the incremental gain around the
// crossover. The band is what the item's peaks reach.
func transferFigures(r *Report, item *Item, name string) []Figure {
	out := &plot.Figure{Name: name + "-transfer", Title: "Transfer curve around the crossover"}
	gain := &plot.Figure{Name: name + "-gain", Title: "Incremental gain around the crossover"}
	x, volts, slope := newBounds(), newBounds(), newBounds()
	for k, rung := range r.Rungs {
		if rung.Curve == nil {
			continue
		}
		t := rungTrace(r, k)
		t.X, t.Y = rung.Curve.In, rung.Curve.Out
		out.Traces = append(out.Traces, t)
		t.Y = rung.Curve.Gain
		if inverts(r) {
			t.Y = negated(t.Y)
		}
		gain.Traces = append(gain.Traces, t)
		x.add(t.X...)
		volts.add(rung.Curve.Out...)
		slope.add(t.Y...)
	}
	if len(out.Traces) == 0 {
		return nil
	}
	out.X = plot.Axis{Label: "input", Unit: "V", SI: true, Lo: x.lo, Hi: x.hi}
	gain.X = out.X
	out.Y = plot.Axis{Label: "output", Unit: "V", SI: true}
	out.Y.Lo, out.Y.Hi = volts.padded()
	gain.Y = plot.Axis{Label: "incremental gain", Unit: "V/V"}
	if inverts(r) {
		gain.Y.Label = "incremental gain, less its sign"
	}
	gain.Y.Lo, gain.Y.Hi = slope.padded()
	swing := item.Peak
	caption := "The item's peaks reach " + format.Quantity(swing, "V") + ", beyond this part of the curve."
	if swing < x.hi {
		out.Bands = []plot.Band{{Lo: -swing, Hi: swing, Label: "this item's peaks"}}
		gain.Bands = []plot.Band{{Lo: -swing, Hi: swing}}
		caption = "Shaded: what this item's peaks of " + format.Quantity(swing, "V") + " reach."
	}
	figures := []Figure{
		draw(out, "Output against input at rest and around it. "+caption),
		draw(gain, "Slope of that curve: a dip at zero is too little bias, a bump too much. "+caption),
	}
	if f := enlarged(r, gain, slope); f != nil {
		figures = append(figures, draw(f, "The same slopes, enlarged around the gain at full swing."))
	}
	return figures
}

// inverts reports whether the stage turns the signal upside down, so that its gains
// are negative.
func inverts(r *Report) bool {
	return len(r.Rungs) > 0 && !slices.ContainsFunc(r.Rungs, func(rung Rung) bool { return rung.GainAtSwing >= 0 })
}

func negated(x []float64) []float64 {
	turned := make([]float64, len(x))
	for i, v := range x {
		turned[i] = -v
	}
	return turned
}

// enlarged is the gain figure near the gain at full swing, where the rungs near
// the optimum differ; nil when the whole figure shows that well.
func enlarged(r *Report, gain *plot.Figure, slope bounds) *plot.Figure {
	swing := newBounds()
	for _, rung := range r.Rungs {
		at := rung.GainAtSwing
		if inverts(r) {
			at = -at
		}
		swing.add(at)
	}
	lo, hi := swing.lo-0.03*math.Abs(swing.hi), max(slope.hi, swing.hi)+0.004*math.Abs(swing.hi)
	if slope.hi-slope.lo < 3*(hi-lo) || slope.hi < lo || !(lo < hi) {
		return nil
	}
	f := *gain
	f.Name += "-enlarged"
	f.Title = "Incremental gain around the crossover, enlarged"
	f.Y.Lo, f.Y.Hi = lo, hi
	return &f
}

// crossingFigures are the waveform at a crossing, in and out, and what was
// added.
func crossingFigures(r *Report, item *Item, name string) []Figure {
	c := item.Crossing
	if c == nil {
		return nil
	}
	times := make([]float64, len(c.In))
	for i := range times {
		times[i] = float64(i-c.Before) * c.Step
	}
	axis := plot.Axis{Label: "time from the crossing", Unit: "s", SI: true, Lo: times[0], Hi: times[len(times)-1]}
	wave := &plot.Figure{Name: name + "-wave", Title: "Waveform at the crossing", X: axis}
	rest := &plot.Figure{Name: name + "-rest", Title: "What was added at the crossing", X: axis}
	wave.Traces = []plot.Trace{{Label: "in", Rung: "in", Look: plot.Look{Pale: true, Wide: true}, X: times, Y: c.In}}
	volts, added := newBounds(), newBounds()
	volts.add(c.In...)
	for k, out := range c.Out {
		t := rungTrace(r, k)
		t.X, t.Y = times, out
		wave.Traces = append(wave.Traces, t)
		volts.add(out...)
		t.Y = make([]float64, len(out))
		for i := range out {
			t.Y[i] = out[i] - c.In[i]
		}
		rest.Traces = append(rest.Traces, t)
		added.add(t.Y...)
	}
	wave.Y = plot.Axis{Label: "in and out", Unit: "V", SI: true}
	wave.Y.Lo, wave.Y.Hi = volts.padded()
	rest.Y = plot.Axis{Label: "out less in", Unit: "V", SI: true}
	rest.Y.Lo, rest.Y.Hi = added.padded()
	when := format.Duration(c.Time)
	return []Figure{
		draw(wave, "From the audio files, at "+when+", where the strongest residual peaks; outputs with their fitted gain taken out, at the scale of the stage's input."),
		draw(rest, "The difference of the same traces."),
	}
}
