package report

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
)

// scatters draw simple numbers against what is heard, a mark a
// rendering: the closer to one rising curve, the better it tells what is heard.
func scatters(r *Report) []Figure {
	var figures []Figure
	for _, c := range r.Correlations {
		if c.Number == "thd" || c.Number == "order_weighted" || c.Number == "gm" || c.Number == "flat_db" {
			if f := scatter(r, c); f != nil {
				figures = append(figures, draw(f, named(c)+": rank correlation "+format.Fixed(c.Rho, 2)+"."))
			}
		}
	}
	return figures
}

// scatter draws one of them; nil when its values span nothing.
func scatter(r *Report, c Correlation) *plot.Figure {
	i := slices.IndexFunc(SimpleNumbers, func(n SimpleNumber) bool { return n.Name == c.Number })
	number, shown := SimpleNumbers[i], simples[c.Number]
	f := &plot.Figure{Name: "tracks-" + strings.ReplaceAll(c.Number, "_", "-"), Width: 310, Height: 220, Title: shown.title + " against what is heard"}
	x, y := newBounds(), newBounds()
	y.add(0) // the threshold
	for k := range r.Rungs {
		t := rungTrace(r, k)
		t.Label, t.Kind = "", plot.Points
		t.X, t.Y = points(r, k, number, shown)
		x.add(t.X...)
		y.add(t.Y...)
		f.Traces = append(f.Traces, t)
	}
	if !(x.lo < x.hi) {
		return nil
	}
	f.X = plot.Axis{Label: shown.title, Unit: shown.unit, Log: shown.log, Lo: x.lo / 1.5, Hi: x.hi * 1.5}
	if !shown.log {
		f.X.Lo, f.X.Hi = x.padded()
	}
	f.Y = plot.Axis{Label: "excess over threshold", Unit: "dB"}
	f.Y.Lo, f.Y.Hi = y.padded()
	f.Rules = []plot.Rule{{At: 0, Label: ""}}
	return f
}

// points are a rung's renderings, by rising number.
func points(r *Report, k int, number SimpleNumber, shown simple) (x, y []float64) {
	type point struct{ x, y float64 }
	var list []point
	for i := range r.Items {
		rendering := &r.Items[i].Renderings[k]
		v, ok := number.Of(rendering)
		if !ok || rendering.Detection == nil || rendering.Detection.DPrime == 0 || math.IsInf(v, 0) || math.IsNaN(v) || shown.log && v <= 0 {
			continue
		}
		if shown.unit == "%" {
			v *= 100
		}
		list = append(list, point{v, float64(level.FromPower(rendering.Detection.DPrime))})
	}
	slices.SortFunc(list, func(a, b point) int { return cmp.Compare(a.x, b.x) })
	for _, p := range list {
		x, y = append(x, p.x), append(y, p.y)
	}
	return x, y
}
