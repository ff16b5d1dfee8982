package report

import (
	"fmt"
	"math"

	"quietcross/reports/view/plot"
)

// frequencyAxis spans what can be heard and what the item's rate holds.
func frequencyAxis(item *Item) plot.Axis {
	return plot.Axis{Label: "frequency", Unit: "Hz", SI: true, Log: true, Lo: 20, Hi: min(20000, float64(item.Rate)/2)}
}

// toneFigures are the spectrum and the harmonics of an item of tones.
func toneFigures(r *Report, item *Item, name string) []Figure {
	if !item.Tonal() {
		return nil
	}
	var figures []Figure
	if f := toneSpectrum(r, item, name); f != nil {
		figures = append(figures, draw(f, spectrumCaption(item)))
	}
	if f := harmonicStems(r, item, name); f != nil {
		figures = append(figures, draw(f, "Harmonics re the fundamental, one marker a bias; those that do not stand clear of the noise are left out."))
	}
	return figures
}

func toneSpectrum(r *Report, item *Item, name string) *plot.Figure {
	f := &plot.Figure{Name: name + "-spectrum", Title: "Spectrum", X: frequencyAxis(item)}
	levels := newBounds()
	for k := range item.Renderings {
		s := item.Renderings[k].Spectrum
		if s == nil {
			continue
		}
		t := rungTrace(r, k)
		t.Look.Solid, t.Look.Wide = true, false
		t.X, t.Y = s.Frequency, floats(s.Level)
		f.Traces = append(f.Traces, t)
		levels.add(t.Y...)
	}
	if len(f.Traces) == 0 {
		return nil
	}
	f.Y = plot.Axis{Label: "level", Unit: "dBFS"}
	f.Y.Lo, f.Y.Hi = levels.tens(160)
	return f
}

func spectrumCaption(item *Item) string {
	for k := range item.Renderings {
		if s := item.Renderings[k].Spectrum; s != nil {
			return fmt.Sprintf("One transform of %d samples from the middle of the file, %s window: the strongest line in each forty-eighth of an octave.", s.Size, s.Window)
		}
	}
	return ""
}

func harmonicStems(r *Report, item *Item, name string) *plot.Figure {
	f := &plot.Figure{Name: name + "-harmonics", Title: "Harmonics"}
	levels := newBounds()
	for k := range item.Renderings {
		h := item.Renderings[k].Harmonics
		if h == nil {
			continue
		}
		t := rungTrace(r, k)
		t.Kind = plot.Stems
		t.Shift = 12 * (float64(k)/float64(max(len(item.Renderings)-1, 1)) - 0.5)
		for _, o := range h.Orders {
			if o.Resolved {
				t.X = append(t.X, float64(o.Order))
				t.Y = append(t.Y, float64(o.Level))
			}
		}
		f.Traces = append(f.Traces, t)
		levels.add(t.Y...)
	}
	if len(f.Traces) == 0 {
		return nil
	}
	f.X = plot.Axis{Label: "order", Lo: 1, Hi: 21}
	f.Y = plot.Axis{Label: "level", Unit: "dB re fundamental"}
	f.Y.Lo, f.Y.Hi = levels.tens(130)
	return f
}

// bandFigures are the third octaves of the residuals against those of the
// programme, and re them.
func bandFigures(r *Report, item *Item, name string) []Figure {
	if item.Tonal() || len(item.Levels) == 0 {
		return nil
	}
	edges := bandEdges(item.Bands)
	axis := frequencyAxis(item)
	axis.Lo, axis.Hi = edges[0], edges[len(edges)-1]
	f := &plot.Figure{Name: name + "-bands", Title: "Residual against the programme", X: axis}
	ratio := &plot.Figure{Name: name + "-ratio", Title: "Residual re the programme in the same band", X: axis}
	levels, ratios := newBounds(), newBounds()
	programme := floats(item.Levels)
	f.Traces = []plot.Trace{{
		Label: "programme", Rung: "in", Kind: plot.Steps, Look: plot.Look{Pale: true, Fill: true}, X: edges, Y: programme,
	}}
	levels.add(programme...)
	for k := range item.Renderings {
		if item.Renderings[k].Levels == nil {
			continue
		}
		t := rungTrace(r, k)
		t.Kind = plot.Steps
		t.X, t.Y = edges, floats(item.Renderings[k].Levels)
		f.Traces = append(f.Traces, t)
		levels.add(t.Y...)
		t.Y = difference(t.Y, programme)
		ratio.Traces = append(ratio.Traces, t)
		ratios.add(t.Y...)
	}
	f.Y = plot.Axis{Label: "level in third octaves", Unit: "dBFS"}
	f.Y.Lo, f.Y.Hi = levels.tens(150)
	ratio.Y = plot.Axis{Label: "residual re programme", Unit: "dB"}
	ratio.Y.Lo, ratio.Y.Hi = ratios.tens(120)
	ratio.Rules = []plot.Rule{{At: 0, Label: "as strong as the programme"}}
	return []Figure{
		draw(f, "Mean over the file. Shaded: the programme; lines: what each bias adds, make-up taken out."),
		draw(ratio, "The same, band by band; 0 dB is as strong as the programme. That hides least of what is added where it is weak itself: there the lines rise."),
	}
}

// difference is a less b; NaN where b is silent.
func difference(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] - b[i]
		if math.IsInf(b[i], 0) {
			out[i] = math.NaN()
		}
	}
	return out
}

// bandEdges returns the edges of neighbouring third octaves (base ten).
func bandEdges(mids []float64) []float64 {
	edges := make([]float64, 0, len(mids)+1)
	for _, m := range mids {
		edges = append(edges, m*math.Pow(10, -0.05))
	}
	return append(edges, mids[len(mids)-1]*math.Pow(10, 0.05))
}
