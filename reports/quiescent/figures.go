package quiescent

import (
	"fmt"
	"math"
	"slices"

	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
	"quietcross/stage/device"
)

// figures are the trade of one stage: what its sound, heat and stability do over
// quiescent current, all against one axis, with the currents that are told of marked.
func figures(index int, s *Result) []sheet.Figure {
	var list []sheet.Figure
	for _, make := range []func(int, *Result) (sheet.Figure, bool){detection, distortion, watts, junctions, loop, drift} {
		if f, ok := make(index, s); ok {
			list = append(list, f)
		}
	}
	return list
}

// over starts a figure over quiescent current, with what meets every limit shaded.
func over(name string, index int, s *Result, title, desc string, y plot.Axis) *plot.Figure {
	f := &plot.Figure{
		Name: fmt.Sprintf("%s-%d", name, index), Title: title, Desc: desc, Width: figureWidth, Height: figureHeight,
		X: plot.Axis{Label: "quiescent current", Unit: "A", SI: true, Log: true, Lo: s.Rungs[1].Quiescent, Hi: s.Rungs[len(s.Rungs)-1].Quiescent},
		Y: y,
	}
	rec := &s.Recommendation
	for i, m := range stretches(s) {
		f.Bands = append(f.Bands, plot.Band{Lo: m[0], Hi: m[1]})
		if i == 0 {
			f.Bands[0].Label = "meets all"
		}
	}
	for _, m := range []struct {
		at   float64
		name string
	}{{rec.Set, "set"}, {rec.Best, "best"}, {rec.Optimum, "textbook"}} {
		if m.at > f.X.Lo && m.at < f.X.Hi {
			f.Rules = append(f.Rules, plot.Rule{At: m.at, Vertical: true, Label: m.name})
		}
	}
	return f
}

// Size of a figure, px.
const (
	figureWidth  = 480
	figureHeight = 300
)

// trace draws one figure of every rung that has it; NaN leaves a gap.
func trace(f *plot.Figure, s *Result, label string, value func(*Rung) float64) {
	t := plot.Trace{Label: label, Look: plot.Look{Index: len(f.Traces)}}
	for i := range s.Rungs {
		if r := &s.Rungs[i]; r.Quiescent > 0 && r.Refusal == "" {
			t.X = append(t.X, r.Quiescent)
			t.Y = append(t.Y, value(r))
		}
	}
	if len(t.X) > 1 {
		f.Traces = append(f.Traces, t)
	}
}

// fit makes the Y axis hold all traces, decades on a logarithmic one.
func fit(f *plot.Figure, floor float64) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range f.Traces {
		for _, y := range t.Y {
			if !math.IsNaN(y) && !math.IsInf(y, 0) && (!f.Y.Log || y > 0) {
				low, high = min(low, y), max(high, y)
			}
		}
	}
	if !(high >= low) {
		return false
	}
	if f.Y.Log {
		f.Y.Lo = math.Pow(10, math.Floor(math.Log10(max(low, floor))))
		f.Y.Hi = math.Pow(10, math.Ceil(math.Log10(max(high, floor)*1.01)))
		return f.Y.Lo < f.Y.Hi
	}
	f.Y.Lo, f.Y.Hi = min(f.Y.Lo, low), max(f.Y.Hi, high)
	return true
}

// leastSensitivity is the d' under which curves are not drawn.
const leastSensitivity = 1e-2

func detection(index int, s *Result) (sheet.Figure, bool) {
	f := over("heard", index, s, "Predicted sensitivity", "Sensitivity with which the difference is told against quiescent current, one line a piece.",
		plot.Axis{Label: "sensitivity d′", Log: true})
	limit := hearing.Sensitivity(s.Limits.Detection)
	under, _ := s.Heard.Interval(limit)
	f.Rules = append(f.Rules, plot.Rule{At: limit, Label: "limit"}, plot.Rule{At: under, Label: "limit with its margin"})
	for _, piece := range pieces(s) {
		trace(f, s, piece, func(r *Rung) float64 {
			most := math.NaN()
			for _, h := range r.Heard {
				if h.Material == piece && !(h.DPrime <= most) && h.DPrime >= leastSensitivity {
					most = h.DPrime
				}
			}
			return most
		})
	}
	ok := len(f.Traces) > 0 && fit(f, leastSensitivity)
	f.Y.Lo, f.Y.Hi = max(min(f.Y.Lo, under/3), leastSensitivity), max(f.Y.Hi, 3*limit)
	return sheet.Figure{Figure: f, Caption: "Each piece at the level at which it is heard most. At the limit the difference is noticed " +
		format.Percent(s.Limits.Detection, 2) + " of the time; under the lower line that holds to the upper end of the prediction's interval."}, ok
}

// pieces are the names of the material, each once.
func pieces(s *Result) []string {
	var list []string
	for _, f := range s.Findings {
		if !slices.Contains(list, f.Material) {
			list = append(list, f.Material)
		}
	}
	return list
}

func distortion(index int, s *Result) (sheet.Figure, bool) {
	f := over("thd", index, s, "Distortion of tones", "Total harmonic distortion against quiescent current; it rises again beyond the optimum.",
		plot.Axis{Label: "THD", Unit: "%", Log: true})
	for i, tone := range firstTones([]*Result{s}) {
		for k, hertz := range Frequencies {
			name := format.DB(tone.Level)
			if s.Memory {
				name += ", " + format.Quantity(hertz, "Hz")
			} else if k > 0 {
				continue // the same at every frequency
			}
			trace(f, s, name, func(r *Rung) float64 { return 100 * r.Tones[i].ByFrequency[k].THD })
		}
	}
	trace(f, s, "mean", func(r *Rung) float64 { return 100 * r.Distortion })
	if len(f.Traces) > 0 {
		f.Traces[len(f.Traces)-1].Look = plot.Look{Ink: true, Wide: true}
	}
	ok := fit(f, 1e-6)
	caption := "Steady tones, level re the drive; the circuit has no memory, and they are the same at 100 Hz, 1 kHz and 10 kHz."
	if s.Memory {
		caption = "Steady tones of 100 Hz, 1 kHz and 10 kHz, level re the drive."
	}
	return sheet.Figure{Figure: f, Caption: caption + " Where a line turns up again, more current is over-bias."}, ok
}

// required is the current that charts of heat must show: the one to set, or else what
// hearing asks for.
func required(s *Result) float64 {
	if s.Recommendation.Met {
		return s.Recommendation.Set
	}
	return max(s.Recommendation.Margin, s.Recommendation.Minimum)
}

// hottestShown is the junction temperature over which lines are cut, °C.
const hottestShown = 250

func junctions(index int, s *Result) (sheet.Figure, bool) {
	limit := s.Limits.Junction - device.ZeroCelsius
	f := over("junction", index, s, "Hottest junction", "Junction temperature in the hottest air.",
		plot.Axis{Label: "junction", Unit: "°C", Lo: s.Limits.Hottest - device.ZeroCelsius, Hi: 1.15 * limit})
	f.Rules = append(f.Rules, plot.Rule{At: limit, Label: "limit"})
	for _, line := range []struct {
		label string
		get   func(*Rung) *bias.Thermal
	}{
		{"idle", func(r *Rung) *bias.Thermal { return &r.Idle }},
		{"programme", func(r *Rung) *bias.Thermal { return &r.Programme }},
		{"worst sine", func(r *Rung) *bias.Thermal { return &r.Sine }},
	} {
		trace(f, s, line.label, func(r *Rung) float64 {
			t := line.get(r)
			if t.Runaway() {
				return math.NaN()
			}
			celsius := t.Junction - device.ZeroCelsius
			if r.Quiescent <= required(s) || r.Quiescent == s.Rungs[1].Quiescent {
				f.Y.Hi = max(f.Y.Hi, min(1.05*celsius, hottestShown))
			}
			return celsius
		})
	}
	return sheet.Figure{Figure: f, Caption: "In the hottest air, continuously. A line that leaves the scale goes on rising; one that breaks off runs away."}, len(f.Traces) > 0
}

func watts(index int, s *Result) (sheet.Figure, bool) {
	f := over("watts", index, s, "Power", "Power at rest and class-A power against quiescent current.", plot.Axis{Label: "power", Unit: "W", SI: true, Log: true})
	trace(f, s, "at rest", func(r *Rung) float64 {
		if r.Rest.Runaway() {
			return math.NaN()
		}
		return r.Rest.Supply
	})
	if s.Limits.Idle != nil {
		trace(f, s, "at rest, hottest air", func(r *Rung) float64 {
			if r.Idle.Runaway() {
				return math.NaN()
			}
			return r.Idle.Supply
		})
	}
	trace(f, s, "class A up to", func(r *Rung) float64 { return r.ClassA })
	ok := fit(f, 1e-3)
	if limit := s.Limits.Idle; limit != nil && *limit > 0 {
		f.Rules = append(f.Rules, plot.Rule{At: *limit, Label: "limit"})
		f.Y.Lo, f.Y.Hi = min(f.Y.Lo, *limit/2), max(f.Y.Hi, 2**limit)
	}
	return sheet.Figure{Figure: f, Caption: "What is drawn at rest once warm, and the output up to which the stage is in class A."}, ok
}

func loop(index int, s *Result) (sheet.Figure, bool) {
	f := over("loop", index, s, "Thermal loop gain", "Thermal loop gain against quiescent current.", plot.Axis{Label: "loop gain", Lo: 0, Hi: 1.05})
	f.Rules = append(f.Rules, plot.Rule{At: s.Limits.Feedback, Label: "limit"})
	trace(f, s, "loop gain", func(r *Rung) float64 {
		if math.IsInf(r.Idle.Stability(), 0) {
			return math.NaN()
		}
		return r.Idle.Stability()
	})
	return sheet.Figure{Figure: f, Caption: "How much of a small warming at rest comes back through the circuit. At 1 the bias runs away."}, len(f.Traces) > 0
}

func drift(index int, s *Result) (sheet.Figure, bool) {
	f := over("drift", index, s, "Drift", "Quiescent current in use over the one set, from cold air at rest to hot air with the programme.", plot.Axis{Label: "current in use over current set", Log: true, Lo: 0.5, Hi: 2})
	for _, line := range []struct {
		label string
		of    func(low, high float64) float64
	}{{"least", func(low, _ float64) float64 { return low }}, {"most", func(_, high float64) float64 { return high }}} {
		trace(f, s, line.label, func(r *Rung) float64 {
			y := line.of(r.Drift())
			if !(y > 0) || math.IsInf(y, 0) {
				return math.NaN()
			}
			if r.Quiescent >= required(s)/10 {
				f.Y.Lo, f.Y.Hi = min(f.Y.Lo, y), max(f.Y.Hi, min(y, 10))
			}
			return y
		})
	}
	return sheet.Figure{Figure: f, Caption: "The quiescent current in use over the one that was set cold: at rest in the coldest and the hottest air, and with the material in the hottest."}, len(f.Traces) > 0
}

// minimumShown is the excess, dB, below which marks are drawn at it.
const minimumShown = -30

func shown(m Mark) float64 { return max(float64(m.Worst), minimumShown) }

// frontierFigure draws audibility against heat for all stages.
func (r *Report) frontierFigure() []sheet.Figure {
	f := &plot.Figure{
		Name: "frontier", Title: "Audibility against heat", Desc: "Worst excess over the masked threshold against power drawn at rest, one line a stage, and the frontier of what nothing beats.",
		Width: 520, Height: 360,
		X: plot.Axis{Label: "drawn at rest", Unit: "W", SI: true, Log: true},
		Y: plot.Axis{Label: "worst excess over threshold", Unit: "dB"},
	}
	low, high := math.Inf(1), 0.0
	for i, s := range r.Stages {
		t := plot.Trace{Label: s.Stage, Look: plot.Look{Index: i}}
		for _, m := range marks(s) {
			t.X, t.Y = append(t.X, m.Heat), append(t.Y, shown(m))
			low, high = min(low, m.Heat), max(high, m.Heat)
		}
		if len(t.X) > 1 {
			f.Traces = append(f.Traces, t)
		}
	}
	if len(f.Traces) == 0 || low == high {
		return nil
	}
	edge := plot.Trace{Label: "frontier", Look: plot.Look{Ink: true, Wide: true}}
	for _, m := range r.Frontier {
		edge.X, edge.Y = append(edge.X, m.Heat), append(edge.Y, shown(m))
	}
	if len(edge.X) > 1 {
		f.Traces = append(f.Traces, edge)
	}
	for i, s := range r.Stages {
		if s.Chosen == nil {
			continue
		}
		if m, ok := mark(s, s.Chosen); ok {
			f.Traces = append(f.Traces, plot.Trace{Kind: plot.Points, Look: plot.Look{Index: i}, X: []float64{m.Heat}, Y: []float64{shown(m)}})
		}
	}
	f.X.Lo, f.X.Hi = low/1.2, high*1.2
	f.Y.Lo, f.Y.Hi = minimumShown-3, 1
	fit(f, 0)
	return []sheet.Figure{{Figure: f, Caption: "Worst piece at the worst level. Markers: the current to set. The power is that drawn at rest, bias parts included. At 0 dB d′ is 1, about the limit of one half. What lies under −30 dB is drawn there."}}
}

// spreadBins is how many bars a spread is drawn with.
const spreadBins = 24

// spreadFigure draws the settled currents of units made in both ways.
func spreadFigure(index int, s *Result) []sheet.Figure {
	y := s.Yield
	low, high := math.Inf(1), 0.0
	for _, b := range []*Batch{&y.Trimmed, &y.Fixed} {
		for _, q := range b.Warm {
			if q > 0 {
				low, high = min(low, q), max(high, q)
			}
		}
	}
	if !(high > low) {
		return nil
	}
	f := &plot.Figure{
		Name: fmt.Sprintf("units-%d", index), Title: "Units, settled", Desc: "Histogram of quiescent currents of built units.",
		X: plot.Axis{Label: "quiescent current, settled at rest", Unit: "A", SI: true, Lo: low, Hi: high},
		Y: plot.Axis{Label: "units", Lo: 0, Hi: 1},
	}
	for i, b := range []struct {
		name  string
		batch *Batch
	}{{"trimmed", &y.Trimmed}, {"fixed bias", &y.Fixed}} {
		t := histogramTrace(b.batch.Warm, low, high)
		t.Label, t.Look = b.name, plot.Look{Index: 2 * i}
		f.Traces = append(f.Traces, t)
	}
	for _, m := range []struct {
		at   float64
		name string
	}{{s.Recommendation.Minimum, "minimum"}, {y.Trimmed.WarmMean, "mean, trimmed"}, {y.Fixed.WarmMean, "mean, fixed"}} {
		if m.at > low && m.at < high {
			f.Rules = append(f.Rules, plot.Rule{At: m.at, Vertical: true, Label: m.name})
		}
	}
	fit(f, 0)
	f.Y.Hi *= 1.1
	return []sheet.Figure{{Figure: f, Caption: "Each unit in its own air, warmed up, with no signal: more than it was set to cold. The means are of these settled currents."}}
}

func histogramTrace(values []float64, low, high float64) plot.Trace {
	t := plot.Trace{Kind: plot.Steps, Y: make([]float64, spreadBins)}
	for i := range spreadBins + 1 {
		t.X = append(t.X, low+(high-low)*float64(i)/spreadBins)
	}
	for _, v := range values {
		if v > 0 {
			t.Y[min(int((v-low)/(high-low)*spreadBins), spreadBins-1)]++
		}
	}
	return t
}
