package lesson

import (
	"html/template"
	"math"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/reports/view/plot"
	"quietcross/stage"
)

// The graphs that do not move: prediction and distortion against current, power against
// level, current against temperature.

// A graph is drawn small, so that its letters are large when it fills half a screen.
const (
	graphWidth  = 310
	graphHeight = 178
)

func graph(name, title, about string, x, y plot.Axis, traces []plot.Trace, rules ...plot.Rule) template.HTML {
	f := plot.Figure{Name: name, Title: title, Desc: about, Width: graphWidth, Height: graphHeight, X: x, Y: y, Traces: traces, Rules: rules}
	return template.HTML(f.SVG())
}

// A rung is the thread's stage at one current of its ladder.
type rung struct {
	state   *state
	current float64 // A
	verdict float64 // detection in quiet music, turned up
}

// ladderCurrents are the thread's currents over its optimum.
var ladderCurrents = []float64{1e-3, 3e-3, 0.01, 0.03, 0.1, 0.2, 0.5, 1, 2}

// climb hears the thread's stage at each current.
func (t *thread) climb() ([]rung, error) {
	rungs := []rung{{t.none, 0, t.soft.verdict.Detection}}
	for _, part := range ladderCurrents {
		x, err := t.held(part * t.optimum)
		if err != nil {
			return nil, err
		}
		s, err := x.output("", t.quiet)
		if err != nil {
			return nil, err
		}
		rungs = append(rungs, rung{x, part * t.optimum, s.verdict.Detection})
	}
	return rungs, nil
}

// predictionGraph draws what is predicted to be heard against current.
func (t *thread) predictionGraph(rungs []rung) template.HTML {
	trace := plot.Trace{Label: "quiet, turned up", Look: plot.Look{Index: 5, Wide: true, Solid: true}}
	for _, r := range rungs[1:] {
		trace.X, trace.Y = append(trace.X, r.current), append(trace.Y, r.verdict)
	}
	last := rungs[len(rungs)-1].current
	return graph("prediction", "What is predicted to be heard", "Falls as the quiescent current rises.",
		plot.Axis{Label: "current", Unit: "A", SI: true, Lo: rungs[1].current, Hi: last, Log: true},
		plot.Axis{Label: "heard", Lo: 0, Hi: 1}, []plot.Trace{trace},
		plot.Rule{At: t.optimum, Vertical: true, Label: "optimum"})
}

// powerLevels are the peaks of a sine at which power is shown, re the drive.
func powerLevels() []float64 {
	var list []float64
	for i := range 21 {
		list = append(list, float64(i)/20)
	}
	return list
}

// powers returns the power of a state under sines, from corpus/bias's own biased stage.
func (x *state) powers() ([]stage.Power, error) {
	b := x.evaluation.Biased()
	var list []stage.Power
	for _, part := range powerLevels() {
		p, err := b.PowerOf(stage.Sine(part * x.ladder.Drive()))
		if err != nil {
			return nil, err
		}
		list = append(list, p)
	}
	return list, nil
}

// heatGraph draws the heat in all devices of some states against the level of a sine.
func heatGraph(names []string, states []*state) (template.HTML, error) {
	var traces []plot.Trace
	top := 0.0
	for i, x := range states {
		powers, err := x.powers()
		if err != nil {
			return "", err
		}
		trace := plot.Trace{Label: names[i], Look: plot.Look{Index: 5 * i, Wide: true, Solid: i == 0}, X: powerLevels()}
		for _, p := range powers {
			trace.Y = append(trace.Y, p.Dissipation())
			top = max(top, p.Dissipation())
		}
		traces = append(traces, trace)
	}
	return graph("heat", "Heat in the devices", "Against the level of a sine, from silence to full drive.",
		plot.Axis{Label: "peak over full drive", Lo: 0, Hi: 1},
		plot.Axis{Label: "heat", Unit: "W", SI: true, Lo: 0, Hi: 1.1 * top}, traces), nil
}

// distortionGraph draws THD against the level of a tone.
func distortionGraph(names []string, states []*state) (template.HTML, error) {
	var traces []plot.Trace
	low, high := 1.0, 0.0
	for i, x := range states {
		trace := plot.Trace{Label: names[i], Look: plot.Look{Index: 5 * i, Wide: true, Solid: i == 0}}
		for l := level.DB(-60); l <= 0; l += 3 {
			thd, err := x.thd(l)
			if err != nil {
				return "", err
			}
			trace.X, trace.Y = append(trace.X, float64(l)), append(trace.Y, 100*thd)
			low, high = min(low, 100*thd), max(high, 100*thd)
		}
		traces = append(traces, trace)
	}
	return graph("distortion", "Distortion against level", "Of a tone, from 60 dB under the drive to the drive.",
		plot.Axis{Label: "level re full drive", Unit: "dB", Lo: -60, Hi: 0},
		plot.Axis{Label: "THD, percent", Lo: math.Pow(10, math.Floor(math.Log10(max(low, 1e-5)))), Hi: math.Pow(10, math.Ceil(math.Log10(high))), Log: true}, traces), nil
}

// toneHertz is the tone that distortion is told of: prime, so that no two of its cycles
// meet the sampling alike.
const toneHertz = 997

// thd returns the distortion of a tone at a level re the drive; of a circuit with memory
// it is that of the law which the page plays.
func (x *state) thd(l level.DB) (float64, error) {
	peak := x.ladder.Drive() * l.Amplitude()
	if x.stage.HasMemory() {
		tone := bias.LawTone(x.solution.Law, toneHertz, peak)
		return tone.THD, nil
	}
	tone, err := x.evaluation.Tone(toneHertz, peak)
	return tone.THD, err
}

// currentGraph draws quiescent current against temperature.
func currentGraph(names []string, kelvins []float64, currents [][]float64) template.HTML {
	var traces []plot.Trace
	low, high := math.Inf(1), 0.0
	for i, list := range currents {
		trace := plot.Trace{Label: names[i], Look: plot.Look{Index: 5 * i, Wide: true, Solid: i == 0}, Y: list}
		for k, v := range list {
			trace.X = append(trace.X, kelvins[k]-273.15)
			low, high = min(low, v), max(high, v)
		}
		traces = append(traces, trace)
	}
	return graph("current", "Quiescent current against temperature", "Of the output devices, at a bias that holds and at one that follows.",
		plot.Axis{Label: "devices at", Unit: "°C", Lo: traces[0].X[0], Hi: traces[0].X[len(kelvins)-1]},
		plot.Axis{Label: "current", Unit: "A", SI: true, Lo: 0.8 * low, Hi: 1.2 * high, Log: true}, traces)
}
