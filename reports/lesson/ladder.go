package lesson

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"math"

	"quietcross/corpus/bias"
	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/reports/view/format"
	"quietcross/reports/view/schematic"
	"quietcross/stage"
)

// ladder is the renderings that the bias slider moves through.
type ladder struct {
	spec    stage.Spec
	optimum float64
	rungs   []rung
	input   []float64
	drawing template.HTML
	// playback is the level of a full-scale sine at the listener, dB SPL.
	playback level.DB
}

// rung is one bias of the ladder.
type rung struct {
	quiescent float64
	scene     *scene
	sound     []float64
	detection float64
	known     bool
	watts     float64 // drawn at rest by the output devices, W
	junction  float64 // once warm, with no signal, K; 0: too hot to run
}

// The ladder's currents over the optimum: the minimum, the maximum, and how many. A
// lone device has little use for more than its optimum, which is class A.
const (
	ladderLow   = 1e-4
	ladderHigh  = 10
	loneHigh    = 2
	ladderRungs = 11
)

// ladderSeconds bounds the excerpt of the ladder, of which there are many.
const ladderSeconds = 6

func newLadder(ctx context.Context, o Options) (ladder, error) {
	l := ladder{spec: o.Spec, playback: o.Playback}
	st, err := stage.New(o.Spec)
	if err != nil {
		return l, err
	}
	low, high, err := ladderRange(st)
	if err != nil {
		return l, err
	}
	l.optimum = st.OptimumQuiescent()
	if l.input, err = excerpt("soft-wind", 0.5, min(ladderSeconds, 1.5*o.Seconds), o.Seed); err != nil {
		return l, err
	}
	bench, err := render.NewBench(render.Options{Spec: o.Spec, Levels: []level.DB{0}, Match: render.MatchGain, Solver: render.SolverStatic})
	if err != nil {
		return l, err
	}
	if err := l.render(ctx, bench, low, high); err != nil {
		return l, err
	}
	l.drawing, err = drawing("circuit-ladder", o.Spec, stage.AsBuilt())
	return l, err
}

// ladderRange returns the minimum and the maximum current of the ladder, A.
func ladderRange(st *stage.Stage) (low, high float64, err error) {
	around := st.OptimumQuiescent()
	minimum, most, err := st.QuiescentRange()
	if err != nil {
		return 0, 0, err
	}
	if around == 0 {
		around = most / 100
	}
	built, err := st.Set(stage.AsBuilt())
	if err != nil {
		return 0, 0, err
	}
	over := float64(ladderHigh)
	if len(built.Outputs()) == 1 {
		over = loneHigh
	}
	return max(ladderLow*around, 2*minimum), min(over*around, most), nil
}

// render renders every rung and predicts what is heard of it; a rung that the
// stage cannot take is left out.
func (l *ladder) render(ctx context.Context, bench *render.Bench, low, high float64) error {
	sounds := map[float64][]float64{}
	piece := bench.Piece([][]float64{l.input}, rate, hushed)
	search := audibility.Case{Material: "soft-wind", Level: hushed, Open: func(ctx context.Context) ([][]float64, audibility.Render, error) {
		clip, err := piece.Render(ctx, stage.Bias(0))
		if err != nil {
			return nil, nil, err
		}
		return clip.Reference, func(ctx context.Context, quiescent float64) (audibility.Rendering, error) {
			clip, err := piece.Render(ctx, bias.Current(quiescent))
			if err != nil {
				return audibility.Rendering{}, err
			}
			sounds[quiescent] = turnedUp(clip.Output[0], hushed)
			return audibility.Rendering{Test: clip.Output, Bias: clip.Rung.Bias, Numbers: map[string]float64{}}, nil
		}, nil
	}}
	o := audibility.DefaultOptions(low, high)
	o.Heard.Playback = l.playback
	finding, err := audibility.ExamineAt(ctx, search, currents(low, high), o)
	if err != nil {
		return err
	}
	if finding.Error != "" {
		return errors.New(finding.Error)
	}
	failure := errors.New("it was given none")
	for _, quiescent := range currents(low, high) {
		if _, ok := sounds[quiescent]; !ok {
			continue
		}
		r, err := newRung(bench, quiescent, finding)
		if err != nil {
			failure = err
			continue
		}
		r.sound = sounds[quiescent]
		l.rungs = append(l.rungs, r)
	}
	if len(l.rungs) < 2 {
		return fmt.Errorf("lesson: the stage takes no two currents of the ladder: %w", failure)
	}
	return nil
}

// currents are those of the rungs: none, and even ratios from low to high, A.
func currents(low, high float64) []float64 {
	list := []float64{0}
	for i := range ladderRungs {
		list = append(list, low*math.Pow(high/low, float64(i)/(ladderRungs-1)))
	}
	return list
}

// newRung works out one rung but for its sound.
func newRung(bench *render.Bench, quiescent float64, finding audibility.Finding) (rung, error) {
	r := rung{quiescent: quiescent}
	for _, p := range finding.Curve {
		if p.Quiescent == quiescent {
			r.detection, r.known = p.Detection, true
		}
	}
	evaluation, err := bench.Ladder().At(bias.Current(quiescent))
	if err != nil {
		return r, err
	}
	if r.scene, err = newScene(evaluation, bench.Ladder().Drive()); err != nil {
		return r, err
	}
	r.watts = r.scene.rest.Supply
	rest, err := evaluation.Settle(bench.Ladder().Stage().Conditions(stage.Sine(0)))
	if rest.Settles() {
		r.junction = rest.Junction
	}
	return r, err
}

// start is the rung that the slider begins at: the second that is heard, so that
// a class hears something and can go both ways.
func (l *ladder) start() int { return min(3, len(l.rungs)-1) }

// label names a rung on the slider.
func (r *rung) label() string {
	if r.quiescent == 0 {
		return "no bias"
	}
	return format.Quantity(r.quiescent, "A")
}

// drawing returns the schematic of a stage at a setting.
func drawing(name string, spec stage.Spec, setting stage.Setting) (template.HTML, error) {
	st, err := stage.New(spec)
	if err != nil {
		return "", err
	}
	b, err := st.Set(setting)
	if err != nil {
		return "", err
	}
	f := schematic.Figure{Name: name, Spec: b.Trimmed(), Setting: setting, Point: b.Point()}
	svg, err := f.SVG()
	return template.HTML(svg), err
}
