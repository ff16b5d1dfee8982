package server

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"quietcross/reports/view/format"
)

// The chart's frame, in its own units.
const (
	chartWidth, chartHeight = 680.0, 300.0
	plotLeft, plotRight     = 56.0, 664.0
	plotTop, plotBottom     = 34.0, 216.0
)

// drawing collects the elements of a chart.
type drawing struct {
	strings.Builder
	lo, hi float64 // residuals at the left and the right
}

func (d *drawing) add(format string, args ...any) { fmt.Fprintf(&d.Builder, format+"\n", args...) }

func (d *drawing) x(residual float64) float64 {
	share := (residual - d.lo) / (d.hi - d.lo)
	return plotLeft + min(max(share, 0), 1)*(plotRight-plotLeft)
}

func (d *drawing) y(right float64) float64 { return plotBottom - right*(plotBottom-plotTop) }

// chart draws the panel's answers against the residual: what was heard in blue
// with solid lines, what was predicted in orange and dashed, side by side.
func chart(m *MaterialResult) template.HTML {
	d := &drawing{lo: math.Inf(1), hi: math.Inf(-1)}
	for i := range m.Listeners {
		d.lo, d.hi = min(d.lo, m.Listeners[i].Session.Lo), max(d.hi, m.Listeners[i].Session.Hi)
	}
	if !(d.hi > d.lo) {
		return ""
	}
	d.add(`<svg class="chart" viewBox="0 0 %g %g" role="img" aria-label="Proportion right against residual">`, chartWidth, chartHeight)
	d.axes(m.Axis)
	d.answers(m)
	d.listeners(m)
	d.panel(m)
	d.expected(m)
	d.add(`</svg>`)
	return template.HTML(d.String()) // numbers and fixed words only
}

func (d *drawing) axes(axis Axis) {
	for _, p := range []float64{0, 0.25, 0.5, 0.75, 1} {
		d.add(`<path class="grid" d="M%g %.1fH%g"/><text class="end" x="%g" y="%.1f">%.0f %%</text>`, plotLeft, d.y(p), plotRight, plotLeft-6, d.y(p)+4, 100*p)
	}
	guess := d.y(1.0 / 3)
	d.add(`<path class="guess" d="M%g %.1fH%g"/><text x="%g" y="%.1f">guessing</text>`, plotLeft, guess, plotRight, plotLeft+4, guess-4)
	every := 10.0
	if d.hi-d.lo < 30 {
		every = 5
	}
	for v := math.Ceil(d.lo/every) * every; v <= d.hi; v += every {
		d.add(`<path class="grid" d="M%.1f %gV%g"/><text class="mid" x="%.1f" y="%g">%s</text>`, d.x(v), plotTop, plotBottom, d.x(v), chartHeight-24, format.Fixed(v, 0))
		if p := axis.At(v); !math.IsNaN(p.Quiescent) {
			d.add(`<text class="mid" x="%.1f" y="%g">%s</text>`, d.x(v), plotTop-8, current(p.Quiescent))
		}
	}
	d.add(`<text class="mid" x="%g" y="%g">residual, dB (below: listeners with 95 %% intervals; above: quiescent current)</text>`, (plotLeft+plotRight)/2, chartHeight-6)
}

// answers draws the counts, gathered in bins of a decibel and sized by their
// trials, and the curve through them.
func (d *drawing) answers(m *MaterialResult) {
	bins := map[float64]Level{}
	for _, p := range m.Points {
		b := bins[math.Round(p.Level)]
		b.Level += p.Level * float64(p.Trials)
		b.Right += p.Right
		b.Trials += p.Trials
		bins[math.Round(p.Level)] = b
	}
	all := make([]Level, 0, len(bins))
	for _, b := range bins {
		b.Level /= float64(b.Trials)
		all = append(all, b)
	}
	slices.SortFunc(all, func(a, b Level) int { return cmp.Compare(a.Level, b.Level) })
	for _, b := range all {
		if b.Level < d.lo || b.Level > d.hi {
			continue // moved out of the set's range with its listener
		}
		d.add(`<circle class="answer" cx="%.1f" cy="%.1f" r="%.1f"/>`, d.x(b.Level), d.y(b.Proportion()), min(9, 1.5+0.7*math.Sqrt(float64(b.Trials))))
	}
	if m.Fit == nil {
		return
	}
	const steps = 120
	path := make([]string, 0, steps+1)
	for i := range steps + 1 {
		v := d.lo + (d.hi-d.lo)*float64(i)/steps
		path = append(path, fmt.Sprintf("%.1f %.1f", d.x(v), d.y(m.Fit.At(v))))
	}
	d.add(`<path class="curve" d="M%s"/>`, strings.Join(path, "L"))
}

// listeners draws each established threshold with its interval under the plot.
func (d *drawing) listeners(m *MaterialResult) {
	var known []*ListenerResult
	for i := range m.Listeners {
		if l := &m.Listeners[i]; l.Established && l.Kept {
			known = append(known, l)
		}
	}
	slices.SortFunc(known, func(a, b *ListenerResult) int { return cmp.Compare(a.Threshold.Mean, b.Threshold.Mean) })
	height := min(5, 38/float64(max(1, len(known))))
	for i, l := range known {
		y := plotBottom + 8 + float64(i)*height
		d.add(`<path class="listener" d="M%.1f %.1fH%.1f"/><circle class="listener" cx="%.1f" cy="%.1f" r="1.8"/>`,
			d.x(l.Threshold.Interval.Lo), y, d.x(l.Threshold.Interval.Hi), d.x(l.Threshold.Mean), y)
	}
}

// panel draws the pooled threshold with its interval.
func (d *drawing) panel(m *MaterialResult) {
	if m.Pooled == nil {
		return
	}
	x, y := d.x(m.Pooled.Mean), d.y(0.08)
	if i := m.Pooled.Interval; !math.IsInf(i.Lo, 0) {
		d.add(`<path class="ear" d="M%.1f %.1fH%.1f"/>`, d.x(i.Lo), y, d.x(i.Hi))
	}
	d.add(`<path class="ear" d="M%.1f %gV%g"/><circle class="ear" cx="%.1f" cy="%.1f" r="5"/>`, x, plotTop, plotBottom, x, y)
	d.label("by ear", "earword", x, d.y(0.18), m.Expected != nil && m.Expected.Residual > m.Pooled.Mean)
}

// expected draws what the model says.
func (d *drawing) expected(m *MaterialResult) {
	if m.Expected == nil {
		return
	}
	x, y := d.x(m.Expected.Residual), d.y(0.08)
	d.add(`<path class="number" d="M%.1f %gV%g"/><path class="numbermark" d="M%.1f %.1fl6 6-6 6-6-6z"/>`, x, plotTop, plotBottom, x, y-6)
	d.label("by number", "numberword", x, d.y(0.18), m.Pooled != nil && m.Expected.Residual <= m.Pooled.Mean)
}

// label writes beside a line, on its left when asked or when the right lacks
// room.
func (d *drawing) label(text, class string, x, y float64, left bool) {
	if left || x > plotRight-70 {
		d.add(`<text class="end %s" x="%.1f" y="%.1f">%s</text>`, class, x-6, y, text)
		return
	}
	d.add(`<text class="%s" x="%.1f" y="%.1f">%s</text>`, class, x+6, y, text)
}
