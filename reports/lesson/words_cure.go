package lesson

import (
	"fmt"
	"slices"

	"quietcross/dsp/level"
	"quietcross/stage"
)

// The second part: the class removes the fault, and sees what holds it off.

// cure lets the class turn the bias.
func cure(t *thread) (step, error) {
	rungs, err := t.climb()
	if err != nil {
		return step{}, err
	}
	heardAt, goneAt := limits(rungs)
	var p, q prose
	p.say("A small steady voltage between the two inputs, the <b>bias</b> (V1 and V2), lifts both devices to the edge of conducting. Play the quiet music and raise it until nobody hears the fault any more.")
	q.when(heardAt > 0, "The ear model still hears it surely at %s in each device.", amperes(heardAt))
	q.when(goneAt > 0, "From %s on it no longer does.", amperes(goneAt))
	q.when(t.theory, "Theory has the evenest hand-over where it drops kT/q, some 26 mV, on each emitter's resistance: %s here, held by %s.", amperes(t.optimum), volts(t.cured.evaluation.Rung.Bias))
	q.when(!t.theory, "The gain at zero equals that further out at %s, held by %s.", amperes(t.optimum), volts(t.cured.evaluation.Rung.Bias))
	q.say("Handing over while both conduct a little is <b>class AB</b>.")
	rows, parted, err := t.cases()
	if err != nil {
		return step{}, err
	}
	var r prose
	r.say("The table tells of both cases of quiet, turned up and left.")
	r.when(parted != "", "%s", parted)
	atBias := t.cured.input("The music", t.quiet)
	moved, err := t.none.output("Quiet: move the bias", t.quiet)
	if err != nil {
		return step{}, err
	}
	return step{
		id: "cure", title: "Take the fault away",
		text:   []string{p.String(), q.String(), r.String()},
		table:  rows,
		sounds: []sound{atBias, moved, t.healed},
		first:  1, slider: true, figure: figureTransfer, graph: t.predictionGraph(rungs), drawing: t.none, level: t.quiet + peakDB,
		question: "What is the smallest current at which you hear nothing? What does the neighbour say?",
		answer: fmt.Sprintf("The prediction says: %s. A single answer proves nothing; a blind test does.", func() string {
			if goneAt > 0 {
				return "from " + amperes(goneAt) + " on"
			}
			return "at no current of this ladder surely gone"
		}()),
	}, nil
}

// limits returns the last current up to which the fault is surely heard, and the first
// from which on it is not; 0 where there is none.
func limits(rungs []rung) (heard, gone float64) {
	for _, r := range rungs {
		if r.verdict <= surely {
			break
		}
		heard = r.current
	}
	for _, r := range slices.Backward(rungs) {
		if r.verdict >= hardly {
			break
		}
		gone = r.current
	}
	return heard, gone
}

// caseParts are the currents over the optimum at which the two cases of quiet music, and
// loud music, are compared.
var caseParts = []float64{0.01, 0.1, 0.2, 1}

// cases predicts what is heard in each case, and says where the two cases of quiet part.
func (t *thread) cases() (*table, string, error) {
	rows := &table{Head: []string{"current", "loud", "quiet, turned up", "quiet, left"}}
	var parted parting
	for _, part := range caseParts {
		x, err := t.held(part * t.optimum)
		if err != nil {
			return nil, "", err
		}
		var heard []float64
		cells := []string{amperes(part * t.optimum)}
		for _, s := range []sound{{level: loudLevel}, {level: t.quiet, turnUp: true}, {level: t.quiet}} {
			if s, err = x.heardAs(s); err != nil {
				return nil, "", err
			}
			heard = append(heard, s.verdict.Detection)
			cells = append(cells, chance(s.verdict.Detection))
		}
		rows.Rows = append(rows.Rows, cells)
		parted.look(cells[0], heard[1], heard[2])
	}
	return rows, parted.words, nil
}

// A parting says at which current the two cases of quiet differ most, where they do.
type parting struct {
	by    float64
	words string
}

// look takes what is predicted at a current, turned up and left, in: less than two trials in
// a hundred are no difference.
func (p *parting) look(current string, up, left float64) {
	if up-left <= max(p.by, 0.02) {
		return
	}
	p.by = up - left
	p.words = fmt.Sprintf("Near the limit they part: at %s the fault is predicted in %s of trials turned up and in %s left, where it sinks toward the threshold of hearing.", current, chance(up), chance(left))
}

// holder is one way to make the bias voltage.
type holder struct {
	name, stage, how string
}

var holderList = []holder{
	{"one resistor", "push-pull-resistor", "One <b>resistor</b> feeds both bases a current and lets the voltage come as it may."},
	{"divider", "push-pull-divider", "Two resistors, a <b>divider</b>, set a voltage that asks nothing of the devices."},
	{"diodes", "pair-12w", "<b>Diodes</b> drop what a device's own junction drops, warm or cold."},
	{"multiplier", "pair-12w-multiplier", "The <b>V<sub>BE</sub> multiplier</b>, a transistor and two resistors, enlarges a junction's voltage by a ratio that a builder can turn."},
}

// holders compares the ways to make the voltage.
func holders(t *thread) (step, error) {
	var p, q prose
	s := step{id: "holders", title: "Four ways to hold the bias", figure: figureTransfer, first: 2, level: -12}
	rows := &table{Head: []string{"bias by", "at rest, cold", "once warm", "zone"}}
	for _, h := range holderList {
		subject, err := t.builtin(h.stage)
		if err != nil {
			return s, err
		}
		x, err := subject.at(stage.AsBuilt())
		if err != nil {
			return s, err
		}
		warm, err := x.evaluation.Settle(subject.stage.Conditions(stage.Sine(0)))
		if err != nil {
			return s, err
		}
		sound, err := x.output("Biased by "+h.name, holderLevel)
		if err != nil {
			return s, err
		}
		s.sounds = append(s.sounds, sound)
		zone := "none"
		if x.evaluation.DeadZone > 0 {
			zone = volts(x.evaluation.DeadZone)
		}
		settled := string(warm.Verdict)
		if warm.Settles() {
			settled = amperes(warm.Quiescent)
		}
		rows.Rows = append(rows.Rows, []string{h.name, amperes(x.evaluation.Quiescent), settled, zone})
		p.say("%s", h.how)
	}
	s.table = rows
	s.text = []string{p.String(), q.say("Each is a stage of its own, %s under its full drive; its drawing comes with its sound. The table has the current of one output device before and after the stage has warmed itself.", decibels(-holderLevel)).String()}
	s.question = "Which of the four knows how warm the output devices are?"
	s.answer = "Diodes and multiplier, if they sit on the same heatsink: their own voltage falls with the temperature as a transistor's does. Resistor and divider know nothing of it."
	return s, nil
}

// holderLevel is how far under full drive the four are played.
const holderLevel level.DB = -12

// starving drives the bias resistor harder than it can feed.
func starving(t *thread) (step, error) {
	hungry, err := t.builtin("push-pull-resistor")
	if err != nil {
		return step{}, err
	}
	fed, err := t.builtin("push-pull-diode")
	if err != nil {
		return step{}, err
	}
	drive := fed.ladder.Drive()
	if hungry, err = hungry.driven(drive); err != nil {
		return step{}, err
	}
	thin, err := hungry.at(stage.AsBuilt())
	if err != nil {
		return step{}, err
	}
	firm, err := fed.at(stage.AsBuilt())
	if err != nil {
		return step{}, err
	}
	small, err := thin.output("One resistor, soft", -24)
	if err != nil {
		return step{}, err
	}
	large, err := thin.output("One resistor, loud", loudLevel)
	if err != nil {
		return step{}, err
	}
	firmly, err := firm.output("A diode, equally loud", loudLevel)
	if err != nil {
		return step{}, err
	}
	peak := thin.volts(loudLevel)
	out := func(x *state) float64 { return (x.solution.Law.At(peak) - x.solution.Law.At(-peak)) / 2 }
	r := hungry.spec.Tap.Upper
	feed := (hungry.spec.Supply.Positive - thin.evaluation.Rung.Bias) / r
	var p, q prose
	p.say("A resistor of %s from a supply of %s can give the two bases %s together, and no more. At rest that is plenty. But a loud wave asks a device for more current, and its base for more with it.",
		ohms(r), volts(hungry.spec.Supply.Positive), amperes(feed))
	q.when(out(thin) < out(firm), "Where the base asks for more than there is, the wave is cut: the stage <b>starves</b>. At %s of input its output reaches %s; with a diode on the tap, %s.",
		volts(peak), volts(abs(out(thin))), volts(abs(out(firm))))
	q.when(large.audible() && small.verdict.Detection < large.verdict.Detection, "So the fault sits at the other end now: loud music is hurt, and soft music is spared.")
	return step{
		id: "starving", title: "A bias that starves",
		text:   []string{p.String(), q.String()},
		sounds: []sound{thin.input("The music", loudLevel), small, large, firmly},
		first:  2, figure: figureTime, level: peakDB,
		question: "How could the resistor be changed so that it starves later, and what would that cost?",
		answer:   fmt.Sprintf("A smaller one feeds more. But at rest, too, all of it goes into the bases: the quiescent current, %s now, rises with it, and with that the heat.", amperes(thin.evaluation.Quiescent)),
	}, nil
}

func abs(v float64) float64 { return max(v, -v) }
