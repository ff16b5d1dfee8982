package lesson

import (
	"context"
	"fmt"
	"html/template"

	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/reports/view/plot"
	"quietcross/stage"
)

// plan is a step before it is worked out.
type plan struct {
	title   string
	spec    stage.Spec
	setting stage.Setting
	// words fills in the step's text from its figures and those of others.
	words func(s *step, all []step) error
}

// step is one step of the lesson.
type step struct {
	plan
	scene    *scene
	drawing  template.HTML
	power    template.HTML
	sounds   []track // tone loud, tone quiet, music loud, music quiet
	followed bool    // in time, in its sounds
	text     []string
	question string
	answer   []string
}

// plans are the six steps. The last two are of spec where that is a complementary
// pair, else of the built-in one.
func plans(spec stage.Spec) ([]plan, error) {
	list := []plan{
		{title: "Class A: always on, always hot", words: classA},
		{title: "One transistor at its turn-on point", words: turnOn},
		{title: "Two transistors, and the dead zone", words: deadZone},
		{title: "A bias resistor", words: resistor},
		{title: "The complementary pair, without bias", words: unbiased},
		{title: "Two diodes", words: diodes},
	}
	names := []string{"single-class-a", "single-class-b", "push-pull-dead-zone", "push-pull-resistor"}
	for i := range list {
		if i >= len(names) {
			list[i].spec = spec
			continue
		}
		var err error
		if list[i].spec, err = stage.Lookup(names[i]); err != nil {
			return nil, err
		}
	}
	if spec.Circuit != pairCircuit || spec.Bias.Diodes != 2 {
		pair, err := stage.Lookup(pairStage)
		if err != nil {
			return nil, err
		}
		list[4].spec, list[5].spec = pair, pair
	}
	list[4].setting = stage.Bias(0)
	return list, nil
}

// pairCircuit is the circuit of the last two steps, and pairStage a built-in one.
const (
	pairCircuit = "complementary-follower"
	pairStage   = "pair-12w"
)

func newStep(ctx context.Context, index int, p plan, in inputs, solver render.Solver) (step, error) {
	s := step{plan: p}
	bench, err := render.NewBench(render.Options{Spec: p.spec, Levels: []level.DB{0}, Match: render.MatchGain, Solver: solver})
	if err != nil {
		return s, err
	}
	s.followed = bench.Ladder().Stage().HasMemory() && solver != render.SolverStatic
	evaluation, err := bench.Ladder().At(p.setting)
	if err != nil {
		return s, err
	}
	if s.scene, err = newScene(evaluation, bench.Ladder().Drive()); err != nil {
		return s, err
	}
	for _, sound := range []struct {
		input []float64
		way   func(context.Context, *render.Bench, []float64, level.DB, stage.Setting) ([]float64, error)
	}{{in.tone, throughTone}, {in.music, through}} {
		for _, l := range []level.DB{loud, quiet} {
			y, err := sound.way(ctx, bench, sound.input, l, p.setting)
			if err != nil {
				return s, err
			}
			s.sounds = append(s.sounds, newTrack(y))
		}
	}
	s.power = template.HTML(powerFigure(index, s.scene).SVG())
	s.drawing, err = drawing(fmt.Sprintf("circuit-%d", index+1), p.spec, p.setting)
	return s, err
}

// powerFigure draws where the power goes against volume.
func powerFigure(index int, s *scene) *plot.Figure {
	f := &plot.Figure{
		Name: fmt.Sprintf("power-%d", index+1), Title: "Power against volume",
		Desc:  "Power drawn, power in the load and heat in the transistors against volume.",
		X:     plot.Axis{Label: "volume, amplitude over the maximum", Lo: 0, Hi: 1},
		Y:     plot.Axis{Label: "power", Unit: "W", SI: true, Lo: 0, Hi: 1e-9},
		Width: 460, Height: 270,
	}
	for i, line := range []struct {
		label string
		rest  float64
		watts samples
	}{
		{"drawn", s.rest.Supply, s.Supply},
		{"heat in the devices", s.rest.Dissipation(), s.Heat},
		{"in the load", s.rest.Load, s.Load},
	} {
		t := plot.Trace{Label: line.label, Look: plot.Look{Index: []int{5, 1, 3}[i], Wide: true}, X: []float64{0}, Y: []float64{line.rest}}
		for k, v := range s.Volumes {
			t.X, t.Y = append(t.X, v.Amplitude()), append(t.Y, line.watts[k])
			f.Y.Hi = max(f.Y.Hi, 1.1*line.watts[k], 1.1*line.rest)
		}
		f.Traces = append(f.Traces, t)
	}
	return f
}
