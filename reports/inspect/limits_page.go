package inspect

import (
	"math"
	"slices"
	"strings"

	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/sheet"
	"quietcross/stage"
	"quietcross/stage/device"
	"quietcross/stage/heat"
)

// The drawings of what a setting does at the edges of what its parts stand: drift against
// time, the safe operating area with the load lines in it, and intermodulation.

// driftSection draws the quiescent current and the temperatures of the first setting over
// the course.
func (look *Inspection) driftSection() sheet.Section {
	return sheet.Section{
		Heading: "Heat in time",
		Text: []string{"Switched on cold, a loud passage of " + format.Duration(PassageSeconds) + " at the drive, and the quiet that follows. " +
			"The junctions follow the music at once, the sink slowly, and the bias part after the sink: in the quiet the junctions are " +
			"cool while the bias part is still warm, and the stage has less current than it was set to, just when crossover distortion can be heard."},
		Figures: []sheet.Figure{
			{Figure: look.driftFigure(), Caption: "Quiescent current that would flow with no signal at the temperatures of the moment."},
			{Figure: look.warmthFigure(), Caption: "Temperatures of " + look.Rungs[0].Label + "."},
		},
	}
}

// driftAxis is time on a scale that shows seconds and hours.
func (look *Inspection) driftAxis() plot.Axis {
	first := &look.Rungs[0].Limits
	return plot.Axis{Label: "time", Unit: "min", Lo: 0, Hi: first.Quietened / 60}
}

func (look *Inspection) driftFigure() *plot.Figure {
	f := &plot.Figure{
		Name: "drift", Title: "Drift of the quiescent current", Desc: "Quiescent current against time, one line a setting.",
		X: look.driftAxis(), Y: plot.Axis{Label: "quiescent current", Unit: "A", SI: true},
	}
	for i := range look.Rungs {
		r := &look.Rungs[i]
		trace := plot.Trace{Label: r.Label, Look: plot.Look{Index: i}}
		for _, m := range r.Limits.Drift.Moments {
			trace.X, trace.Y = append(trace.X, m.Seconds/60), append(trace.Y, m.Quiescent)
		}
		f.Traces = append(f.Traces, trace)
		if !r.Limits.Drift.GivenUp {
			f.Y.Hi = max(f.Y.Hi, 1.08*slices.Max(trace.Y))
		}
	}
	if f.Y.Hi == 0 {
		f.Y.Hi = 1
	}
	f.Bands = []plot.Band{look.loudBand()}
	return f
}

func (look *Inspection) loudBand() plot.Band {
	rested := look.Rungs[0].Limits.Rested
	return plot.Band{Lo: rested / 60, Hi: (rested + PassageSeconds) / 60, Label: "loud"}
}

func (look *Inspection) warmthFigure() *plot.Figure {
	f := &plot.Figure{
		Name: "warmth", Title: "Temperatures", Desc: "Junction, case, sink and bias part of the first setting against time.",
		X: look.driftAxis(), Y: plot.Axis{Label: "temperature", Unit: "°C", Lo: look.Spec.Thermal.Ambient - device.ZeroCelsius - 5},
		Bands: []plot.Band{look.loudBand()},
	}
	for i, line := range []struct {
		label string
		value func(m stage.Moment) float64
	}{
		{"junction", func(m stage.Moment) float64 { return m.Hottest() }},
		{"case", func(m stage.Moment) float64 { return max(m.UpperCase, m.LowerCase) }},
		{"sink", func(m stage.Moment) float64 { return m.Sink }},
		{"bias part", func(m stage.Moment) float64 { return m.Bias }},
	} {
		trace := plot.Trace{Label: line.label, Look: plot.Look{Index: i}}
		for _, m := range look.Rungs[0].Limits.Drift.Moments {
			trace.X, trace.Y = append(trace.X, m.Seconds/60), append(trace.Y, line.value(m)-device.ZeroCelsius)
			f.Y.Hi = max(f.Y.Hi, trace.Y[len(trace.Y)-1]+5)
		}
		f.Traces = append(f.Traces, trace)
	}
	return f
}

// areaSection draws the safe operating area, where the stage file gives one.
func (look *Inspection) areaSection() []sheet.Section {
	area, ok := look.Rungs[0].Biased().Stage().SafeArea()
	if !ok {
		return nil
	}
	r := &look.Rungs[0]
	var caption strings.Builder
	caption.WriteString("Use above 1 is outside. ")
	for _, line := range []struct {
		name string
		line *stage.LoadLine
	}{{"resistor", &r.Limits.Line}, {"45 degrees", r.Limits.Angle}} {
		if line.line != nil {
			caption.WriteString(line.name + ": worst " + line.line.Worst.String() + ". ")
		}
	}
	return []sheet.Section{{
		Heading: "Safe operating area, " + r.Label,
		Text: []string{"One output device over a cycle at the drive, against what it stands with its case at " + format.Celsius(r.Limits.Case) +
			", where the stage settles at the drive. A loudspeaker on the flank of a resonance opens the load line to a loop."},
		Figures: []sheet.Figure{{Figure: look.areaFigure(&area), Caption: caption.String()}},
	}}
}

// The ends of the safe area's drawing, re its corners.
const (
	areaBelow = 1e-3
	areaLines = 200
)

func (look *Inspection) areaFigure(area *heat.Area) *plot.Figure {
	r := &look.Rungs[0]
	f := &plot.Figure{
		Name: "area", Title: "Safe operating area", Desc: "Current against voltage of one output device, its limits and its load lines.", Height: 360,
		X: plot.Axis{Label: "voltage across the device", Unit: "V", SI: true, Log: true, Lo: area.Volts / 100, Hi: area.Volts * 1.3},
		Y: plot.Axis{Label: "current", Unit: "A", SI: true, Log: true, Lo: area.Current * areaBelow, Hi: area.Current * 2},
	}
	for i, limit := range []struct {
		label  string
		kelvin float64
	}{{"limit, case 25 °C", device.RoomKelvin}, {"limit, case " + format.Celsius(r.Limits.Case), r.Limits.Case}} {
		trace := plot.Trace{Label: limit.label, Look: plot.Look{Index: i, Wide: i == 1}}
		for k := range areaLines {
			volts := f.X.Lo * math.Pow(area.Volts/f.X.Lo, float64(k)/(areaLines-1))
			amperes, _ := area.At(min(volts, area.Volts), limit.kelvin)
			trace.X, trace.Y = append(trace.X, volts), append(trace.Y, max(amperes, f.Y.Lo/10))
		}
		trace.X, trace.Y = append(trace.X, area.Volts), append(trace.Y, f.Y.Lo/10)
		f.Traces = append(f.Traces, trace)
	}
	f.Traces = append(f.Traces, linePoints("resistor", 2, &r.Limits.Line))
	if r.Limits.Angle != nil {
		f.Traces = append(f.Traces, linePoints("45 degrees", 3, r.Limits.Angle))
	}
	for _, line := range []*stage.LoadLine{&r.Limits.Line, r.Limits.Angle} {
		if line != nil && line.Worst.Use > 0 {
			f.Notes = append(f.Notes, plot.Note{X: line.Worst.Volts, Y: line.Worst.Current, Text: "worst, " + format.Number(line.Worst.Use, 3) + " of the limit"})
		}
	}
	return f
}

// linePoints are the instants of the device that the worst one is of, in the order of
// voltage.
func linePoints(label string, index int, line *stage.LoadLine) plot.Trace {
	t := plot.Trace{Label: label, Kind: plot.Points, Look: plot.Look{Index: index}}
	var points []stage.Instant
	for _, device := range line.Devices {
		if len(device) > 0 && device[0].Device == line.Worst.Device {
			points = slices.Clone(device)
		}
	}
	slices.SortFunc(points, func(a, b stage.Instant) int {
		switch {
		case a.Volts < b.Volts:
			return -1
		case a.Volts > b.Volts:
			return 1
		}
		return 0
	})
	for _, p := range points {
		if p.Volts > 0 && p.Current > 0 {
			t.X, t.Y = append(t.X, p.Volts), append(t.Y, p.Current)
		}
	}
	return t
}

// transientTable tells the products of the intermodulation that only time shows.
func (look *Inspection) transientTable() sheet.Table {
	t := sheet.Table{
		Caption: "Intermodulation that only time shows, " + format.Number(-transientLevel, 1) + " dB under the drive: products re the sine",
		Columns: []string{"product"},
	}
	var rows [][]string
	for i := range look.Rungs {
		r := &look.Rungs[i]
		t.Columns = append(t.Columns, r.Label)
		for k, line := range transientLines(r) {
			if i == 0 {
				rows = append(rows, []string{line[0]})
			}
			rows[k] = append(rows[k], line[1])
		}
	}
	t.Rows = rows
	return t
}

// transientLines are the rows of one setting: name and level.
func transientLines(r *Rung) [][2]string {
	x := r.Limits.Transient
	list := make([][2]string, 0, 15)
	add := func(what string, value func() string) {
		if x == nil {
			list = append(list, [2]string{what, "–"})
			return
		}
		list = append(list, [2]string{what, value()})
	}
	add("3.15 kHz square and 15 kHz sine, all", func() string { return format.DB(x.SquareTotal) })
	for k, hertz := range []string{"750 Hz", "2.4 kHz", "3.9 kHz", "5.55 kHz", "7.05 kHz", "8.7 kHz", "10.2 kHz", "11.85 kHz", "13.35 kHz"} {
		add(hertz, func() string { return format.DB(x.Square[k].Level) })
	}
	add("19 and 20 kHz, all, re one tone", func() string { return format.DB(x.DifferenceTotal) })
	for k, hertz := range []string{"1 kHz", "2 kHz", "17 kHz", "18 kHz"} {
		add(hertz, func() string { return format.DB(x.Difference[k].Level) })
	}
	return list
}
