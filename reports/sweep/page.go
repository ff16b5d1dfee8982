package sweep

import (
	"fmt"
	"io"
	"math"
	"slices"

	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
)

// WritePage writes the sweep as a page.
func (r *Result) WritePage(w io.Writer) error {
	s := &sheet.Sheet{
		Kicker: "quietcross sweep",
		Title:  r.Title,
		Subtitle: fmt.Sprintf("Level 0 dB is %s peak at the input; the load is %s.",
			format.Digits(r.Grid.Drive, 4, "V"), format.Quantity(r.Grid.Load, "Ω")),
	}
	s.Cautions = caution.Bench()
	for _, c := range r.Grid.Curves {
		if c.Refusal != "" {
			s.Warnings = append(s.Warnings, fmt.Sprintf("No curve at %s: %s.", c.Label, c.Refusal))
		}
	}
	s.Sections = []sheet.Section{
		{Heading: "Harmonics", Figures: r.harmonicFigures(), Tables: []sheet.Table{r.biases()}},
		{Heading: "As a measurement to 20 kHz sees it", Figures: r.bandFigures()},
		{Heading: "Two tones", Figures: r.twoToneFigures()},
		{Heading: "The law itself", Figures: r.lawFigures()},
		{Heading: "Limits", Text: r.limits()},
	}
	return s.Write(w)
}

// figure draws one measure against one abscissa, a trace a bias. Points without a
// value, or of zero on a logarithmic axis, are left out.
type figure struct {
	name, title, desc, caption string
	x, y                       plot.Axis
	abscissa                   func(*Point) float64
	ordinate                   func(*Point) float64
}

func (r *Result) draw(f figure) []sheet.Figure {
	d := &plot.Figure{Name: f.name, Title: f.title, Desc: f.desc, X: f.x, Y: f.y, Width: 640, Height: 400}
	for i := range r.Grid.Curves {
		c := &r.Grid.Curves[i]
		t := plot.Trace{Label: label(c), Look: plot.Look{Index: i}}
		for _, p := range rising(c.Points) {
			x, y := f.abscissa(&p), f.ordinate(&p)
			if usable(x, f.x.Log) && usable(y, f.y.Log) {
				t.X, t.Y = append(t.X, x), append(t.Y, y)
			}
		}
		if len(t.X) > 0 && slices.IsSorted(t.X) {
			d.Traces = append(d.Traces, t)
		}
	}
	if !span(&d.X, d.Traces, func(t plot.Trace) []float64 { return t.X }) ||
		!span(&d.Y, d.Traces, func(t plot.Trace) []float64 { return t.Y }) {
		return nil
	}
	return []sheet.Figure{{Figure: d, Caption: f.caption}}
}

func usable(v float64, logarithmic bool) bool {
	return !math.IsNaN(v) && !math.IsInf(v, 0) && (!logarithmic || v > 0)
}

// rising returns the points by rising input.
func rising(points []Point) []Point {
	sorted := slices.Clone(points)
	slices.SortFunc(sorted, func(a, b Point) int {
		if a.Input < b.Input {
			return -1
		}
		return 1
	})
	return sorted
}

// span sets an axis's ends, those that are not set yet, to what the traces hold;
// false when there is nothing to span.
func span(a *plot.Axis, traces []plot.Trace, values func(plot.Trace) []float64) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, t := range traces {
		for _, v := range values(t) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	if lo > hi {
		return false
	}
	margin := 0.05 * (hi - lo)
	if a.Log {
		const decades = 1e7 // an unbiased stage's minimum output is next to nothing
		lo, hi = max(lo/1.2, hi/decades), hi*1.2
	} else {
		lo, hi = lo-max(margin, 1e-6), hi+max(margin, 1e-6)
	}
	if a.Lo == 0 && a.Hi == 0 {
		a.Lo, a.Hi = lo, hi
	}
	a.Lo, a.Hi = max(a.Lo, lo), min(a.Hi, hi)
	return a.Lo < a.Hi
}

// Axes that several figures share. Distortion below a millionth of a percent is of
// no interest and is cut off.
func powerAxis() plot.Axis {
	return plot.Axis{Label: "output power", Unit: "W", SI: true, Log: true}
}

func distortionAxis(label string) plot.Axis {
	return plot.Axis{Label: label, Unit: "%", Log: true, Lo: 1e-6, Hi: 1000}
}

// power returns that of a frequency's fundamental.
func (r *Result) power(k int) func(*Point) float64 {
	return func(p *Point) float64 { return r.Grid.power(&p.Tones[k]) }
}

func (r *Result) harmonicFigures() []sheet.Figure {
	var figures []sheet.Figure
	for _, k := range r.thdPlaces() {
		figures = append(figures, r.draw(figure{
			name: fmt.Sprintf("thd-%d", k), title: "THD against output power" + r.at(k), desc: "Total harmonic distortion of a tone, one curve a bias.",
			caption: "Total harmonic distortion, all orders, re the fundamental (IEC 60268-3, 14.12), against the power of the fundamental in the load.",
			x:       powerAxis(), y: distortionAxis("THD" + r.at(k)),
			abscissa: r.power(k), ordinate: func(p *Point) float64 { return 100 * p.Tones[k].THD },
		})...)
	}
	k := r.Grid.reference()
	return append(figures, r.draw(figure{
		name: "weighted", title: "Order-weighted distortion against output power" + r.at(k), desc: "Harmonics weighted by order, one curve a bias.",
		caption: "Harmonics to order 20, each weighted by n²/4 (Shorter 1950): high orders, which crossover makes, count for more.",
		x:       powerAxis(), y: distortionAxis("order-weighted"),
		abscissa: r.power(k), ordinate: func(p *Point) float64 { return 100 * p.Tones[k].OrderWeighted },
	})...)
}

func (r *Result) bandFigures() []sheet.Figure {
	var figures []sheet.Figure
	for k, f := range r.Grid.Frequencies {
		hertz := format.Quantity(f, "Hz")
		figures = append(figures, r.draw(figure{
			name: fmt.Sprintf("band-%d", k), title: "THD+N without noise at " + hertz, desc: "Harmonics up to 20 kHz, one curve a bias.",
			caption: "At " + hertz + ": harmonics up to 20 kHz re the total (AES17 without noise).",
			x:       powerAxis(), y: distortionAxis("THD+N"),
			abscissa: r.power(k), ordinate: func(p *Point) float64 { return 100 * p.Tones[k].InBand },
		})...)
	}
	return figures
}

func (r *Result) twoToneFigures() []sheet.Figure {
	return append(r.draw(figure{
		name: "modulation", title: "Modulation distortion against output power", desc: "Third-order modulation distortion, one curve a bias.",
		caption: "Modulation distortion of third order, two tones 4:1 (IEC 60268-3, 14.12), against the power of a sine of the same peak.",
		x:       powerAxis(), y: distortionAxis("modulation"),
		abscissa: r.power(r.Grid.reference()), ordinate: func(p *Point) float64 { return 100 * p.Modulation3 },
	}), r.draw(figure{
		name: "difference", title: "Difference-frequency distortion against output power", desc: "Third-order difference-frequency distortion, one curve a bias.",
		caption: "Difference-frequency distortion of third order, two tones alike (IEC 60268-3, 14.12), against the power of a sine of the same peak.",
		x:       powerAxis(), y: distortionAxis("difference"),
		abscissa: r.power(r.Grid.reference()), ordinate: func(p *Point) float64 { return 100 * p.Difference3 },
	})...)
}

func (r *Result) lawFigures() []sheet.Figure {
	level := plot.Axis{Label: "input level re drive", Unit: "dB"}
	return append(r.draw(figure{
		name: "gain", title: "Incremental gain against level", desc: "Incremental gain at the positive peak, one curve a bias.",
		caption: "Incremental gain at the positive peak of the input: where a curve bends, a signal of that level is distorted.",
		x:       level, y: plot.Axis{Label: "incremental gain", Unit: "V/V"},
		abscissa: func(p *Point) float64 { return float64(p.Level) }, ordinate: func(p *Point) float64 { return p.GainAtHigh },
	}), r.draw(figure{
		name: "gm", title: "Smooth-law metric against level", desc: "The metric of Geddes and Lee, one curve a bias.",
		caption: "Gm of Geddes and Lee (2003) over each swing. It is for smooth laws: for an ideal dead band it diverges, and where the law bends too sharply it is left out.",
		x:       level, y: plot.Axis{Label: "Gm", Log: true},
		abscissa: func(p *Point) float64 { return float64(p.Level) },
		ordinate: func(p *Point) float64 {
			if p.Gm == nil {
				return math.NaN()
			}
			return *p.Gm
		},
	})...)
}

// biases tells what each setting gives.
func (r *Result) biases() sheet.Table {
	t := sheet.Table{Caption: "The biases", Columns: []string{"setting", "bias", "quiescent", "gain at rest", "gain at drive", "THD at 0 dB"}}
	k := r.Grid.reference()
	for i := range r.Grid.Curves {
		c := &r.Grid.Curves[i]
		if c.Refusal != "" {
			continue
		}
		name := label(c)
		if c.Rung.IsOptimum() {
			name += " (optimum)"
		}
		t.Rows = append(t.Rows, []string{
			name, format.Digits(c.Rung.Bias, 4, "V"), format.Quantity(c.Rung.Quiescent, "A"),
			format.Fixed(c.Rung.GainAtZero, 4), format.Fixed(c.Rung.GainAtSwing, 4), format.Percent(loudest(c.Points).Tones[k].THD, 3),
		})
	}
	t.Columns[5] = fmt.Sprintf("THD at %s%s", format.DB(slices.Max(r.Grid.Levels)), r.at(k))
	return t
}

// loudest returns the point of the maximum input.
func loudest(points []Point) Point {
	return slices.MaxFunc(points, func(a, b Point) int {
		if a.Input < b.Input {
			return -1
		}
		return 1
	})
}
