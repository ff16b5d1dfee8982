package lesson

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

// A thread is the stage that the lesson follows from its fault to its cure: without bias,
// at the current of the evenest hand-over, and beyond it. It is biased by an ideal source,
// so that nothing but the bias changes; how a circuit makes that voltage is told apart.
type thread struct {
	*subject
	argument string
	optimum  float64 // A
	theory   bool    // the optimum is that of the circuit's theory
	none     *state
	cured    *state
	over     *state
	times    float64 // the over-bias, re the optimum

	quiet level.DB // of quiet music, re the drive

	// The sounds that the whole lesson refers to.
	soft, softLeft, loud, healed sound
}

// Quiet music reaches so far into the dead zone's outside: its peaks are this many times
// half of the zone.
const reachOut = 2.5

// loudLevel is that of loud music.
const loudLevel level.DB = 0

// overTimes is the current of an over-bias re the optimum, where the stage takes that.
const overTimes = 5

func newThread(s *stand, spec stage.Spec, argument string) (*thread, error) {
	t := &thread{argument: argument}
	var err error
	if t.subject, err = s.put(spec); err != nil {
		return nil, err
	}
	if len(t.outputs()) != 2 {
		return nil, unfit("one output device hands nothing over: name a push-pull stage; the others have their step anyway")
	}
	if t.none, err = t.at(stage.Bias(0)); err != nil {
		return nil, err
	}
	if t.none.evaluation.InsideLoop {
		return nil, unfit("its fault lies inside a feedback loop: name the stage without its loop; the loop has a step of its own")
	}
	if !(t.none.evaluation.DeadZone > 0) {
		return nil, unfit("without bias it has no dead zone")
	}
	if err := t.bias(); err != nil {
		return nil, err
	}
	return t, t.listen()
}

func unfit(reason string) error { return fmt.Errorf("%w: %s", ErrUnfit, reason) }

// outputs returns the names of the output devices, the upper first.
func (s *subject) outputs() []string {
	b, err := s.stage.Set(stage.AsBuilt())
	if err != nil {
		return nil
	}
	var names []string
	for _, o := range b.Outputs() {
		names = append(names, b.Point().Devices[o].Name)
	}
	return names
}

// bias finds the cure and the over-bias.
func (t *thread) bias() (err error) {
	t.theory = t.stage.OptimumQuiescent() > 0
	if t.optimum, err = t.stage.Optimum(); err != nil {
		return err
	}
	if !(t.optimum > 0) {
		return unfit("no quiescent current is its optimum")
	}
	if t.cured, err = t.held(t.optimum); err != nil {
		return err
	}
	_, most, err := t.stage.HeldRange()
	if err != nil {
		return err
	}
	t.times = min(overTimes, math.Floor(0.9*most/t.optimum))
	if t.times < 2 {
		return unfit("it takes no current far beyond its optimum")
	}
	t.over, err = t.held(t.times * t.optimum)
	return err
}

// listen sets the level of quiet music and holds the stage to what is told of it.
func (t *thread) listen() error {
	half := t.none.evaluation.DeadZone / 2
	t.quiet = level.DB(math.Ceil(float64(level.FromAmplitude(reachOut*half/t.ladder.Drive()) - peakDB)))
	if t.quiet > -2 {
		return unfit("at its drive, hardly any music gets out of the dead zone")
	}
	if t.cured.evaluation.Clips(t.volts(loudLevel)) {
		return unfit("with its bias it clips before loud music does")
	}
	var err error
	if t.soft, err = t.none.output("Without bias, quiet", t.quiet); err != nil {
		return err
	}
	if t.softLeft, err = t.none.left("Without bias, left quiet", t.quiet); err != nil {
		return err
	}
	if t.loud, err = t.none.output("Without bias, loud", loudLevel); err != nil {
		return err
	}
	if t.healed, err = t.cured.output("With bias, quiet", t.quiet); err != nil {
		return err
	}
	switch {
	case !t.soft.audible():
		return unfit("without bias nothing is predicted to be heard of it in quiet music")
	case t.healed.verdict.Detection >= often:
		return unfit("with bias it is still predicted to be heard")
	}
	return nil
}

// The quantities of the text.

func volts(v float64) string   { return format.Digits(v, 2, "V") }
func amperes(v float64) string { return format.Digits(v, 2, "A") }
func percent(v float64) string {
	if v < 1e-6 {
		return "under 0.0001\u00a0%"
	}
	return format.Percent(v, 2)
}

// ohms writes a resistance as on a drawing, without trailing zeros.
func ohms(v float64) string {
	scale, prefix := format.Prefix(v)
	if v < 1 && v >= 0.01 {
		scale, prefix = 1, ""
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v/scale, 'g', 3, 64), 64) // as written, it parses
	return strconv.FormatFloat(rounded, 'f', -1, 64) + "\u00a0" + prefix + "Ω"
}

func celsius(k float64) string { return format.Celsius(k) }
func decibels(d level.DB) string {
	return format.Fixed(float64(d), 0) + "\u00a0dB"
}

// nextToNone is a power, W, under which a power stage takes next to none.
const nextToNone = 1e-3

// watts writes a power, next to none as such.
func watts(v float64) string {
	if v < nextToNone {
		return "under 1\u00a0mW"
	}
	return format.Digits(v, 2, "W")
}

// times writes how many times one value is another.
func times(a, b float64) string { return format.Number(a/b, 2) + "\u00a0times" }

// A prose is a paragraph that is put together from sentences of which some hold and some
// do not.
type prose struct{ sentences []string }

// say adds a sentence.
func (p *prose) say(text string, values ...any) *prose {
	p.sentences = append(p.sentences, fmt.Sprintf(text, values...))
	return p
}

// when adds a sentence if it holds.
func (p *prose) when(holds bool, text string, values ...any) *prose {
	if holds {
		p.say(text, values...)
	}
	return p
}

func (p *prose) String() string { return strings.Join(p.sentences, " ") }
