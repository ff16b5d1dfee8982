package lesson

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/reports/view/format"
	"quietcross/stage"
	"quietcross/stage/circuits"
)

// The third part: what each cure costs.

// alwaysOn is class A.
func alwaysOn(t *thread) (step, error) {
	lone, err := t.builtin("single-class-a")
	if err != nil {
		return step{}, err
	}
	a, err := lone.at(stage.AsBuilt())
	if err != nil {
		return step{}, err
	}
	powers, err := a.powers()
	if err != nil {
		return step{}, err
	}
	rest, full := powers[0], powers[len(powers)-1]
	soft, err := a.output("Class A, quiet", -24)
	if err != nil {
		return step{}, err
	}
	loud, err := a.output("Class A, loud", loudLevel)
	if err != nil {
		return step{}, err
	}
	picture, err := heatGraph([]string{"class A", "with bias"}, []*state{a, t.cured})
	if err != nil {
		return step{}, err
	}
	hottest, err := t.cured.evaluation.HottestSine()
	if err != nil {
		return step{}, err
	}
	var p, q prose
	p.say("Who never hands over has no crossing to get wrong. One device that carries the whole wave, up and down, is <b>class A</b>: it must be set to about half of the most that it will carry, %s here, and conducts for %s° of every cycle at full drive.",
		amperes(a.evaluation.Quiescent), format.Fixed(full.Devices[a.evaluation.Biased().Outputs()[0]].Conduction*180/math.Pi, 0))
	q.say("The price is heat that never ends. It draws %s in silence and %s at full drive, of which %s reaches the load.", watts(rest.Supply), watts(full.Supply), watts(full.Load))
	q.when(rest.Dissipation() > full.Dissipation(), "In silence all of it turns to heat: the device is hottest when nobody listens, %s against %s.", watts(rest.Dissipation()), watts(full.Dissipation()))
	shared, err := t.cured.powers()
	if err != nil {
		return step{}, err
	}
	coolest := slices.MinFunc(shared, func(a, b stage.Power) int { return cmp.Compare(a.Dissipation(), b.Dissipation()) })
	q.when(hottest > 0, "The stage of this lesson is hottest with a sine of %s of its drive.", percent(hottest/t.ladder.Drive()))
	q.when(coolest.Peak == 0, "It is coolest at rest.")
	return step{
		id: "class-a", title: "The way without a crossing: class A",
		text:   []string{p.String(), q.String()},
		sounds: []sound{a.input("The music", -24), soft, loud},
		first:  1, figure: figureGraph, graph: picture, drawing: a, ways: true, level: -6,
		question: "The class A stage plays all evening, then nobody listens for an hour. When is it hotter?",
		answer:   fmt.Sprintf("At full drive the device turns %s into heat, in silence %s.", watts(full.Dissipation()), watts(rest.Dissipation())),
	}, nil
}

// tooMuch is over-bias.
func tooMuch(t *thread) (step, error) {
	s := step{id: "too-much", title: "More is not simply better", figure: figureGraph, first: 1, drawing: t.over, level: peakDB}
	picture, err := distortionGraph([]string{"optimum", format.Number(t.times, 1) + " times it", "no bias"}, []*state{t.cured, t.over, t.none})
	if err != nil {
		return s, err
	}
	s.graph = picture
	risen, at := 1.0, level.DB(0)
	for l := level.DB(-40); l <= 0; l += 2 {
		less, err := t.cured.thd(l)
		if err != nil {
			return s, err
		}
		more, err := t.over.thd(l)
		if err != nil {
			return s, err
		}
		if more/less > risen {
			risen, at = more/less, l
		}
	}
	rows := &table{Head: []string{"current", "drawn at rest", "junction at rest, its own bias parts", "gain at zero"}}
	for _, x := range []*state{t.none, t.cured, t.over} {
		junction := t.ownJunction(x.evaluation.Quiescent)
		gain := format.Fixed(abs(x.evaluation.GainAtZero), 3)
		rows.Rows = append(rows.Rows, []string{current(x.evaluation.Quiescent), watts(x.evaluation.IdleDissipation), junction, gain})
	}
	s.table = rows
	var p, q prose
	p.say("If some bias is good, is more better? Here is %s times the optimum, %s: <b>over-bias</b>.", format.Number(t.times, 1), amperes(t.over.evaluation.Quiescent))
	zero, out := abs(t.over.evaluation.GainAtZero), abs(t.over.evaluation.GainAtSwing)
	p.when(zero > out, "About zero both devices drive the load, further out only one of them: the gain is %s there and %s at the peaks. The dip at the crossing has become a hump.", format.Fixed(zero, 3), format.Fixed(out, 3))
	where := "at full drive"
	if at < 0 {
		where = decibels(-at) + " under full drive"
	}
	q.again(risen, where)
	q.say("What it surely costs is power: %s drawn in silence instead of %s. No bias that is set once is right for every level; the optimum only makes the hand-over even.", watts(t.over.evaluation.IdleDissipation), watts(t.cured.evaluation.IdleDissipation))
	s.text = []string{p.String(), q.String()}
	over, err := t.over.output("Over-biased, quiet", t.quiet)
	if err != nil {
		return s, err
	}
	s.sounds = []sound{t.over.input("The music", t.quiet), t.healed, over}
	s.question = "Why is the gain larger while both devices conduct?"
	s.answer = "Two devices share the load's current, so each has to change less for it: their output resistances lie in parallel. One alone loses more of the voltage on its own."
	return s, nil
}

// again says by how much distortion rises over that of the optimum, and where most.
func (p *prose) again(risen float64, where string) {
	if risen <= 1.2 {
		p.say("At no level of the graph does distortion rise by more than a fifth over that of the optimum: more current costs heat, and little else.")
		return
	}
	p.say("So distortion can rise again: %s a tone has %s the harmonics that it has at the optimum.", where, times(risen, 1))
}

// ownJunction says how hot a stage gets at rest that its own parts bias to a current.
func (t *thread) ownJunction(amperes float64) string {
	setting := stage.Bias(0)
	if amperes > leakage {
		setting = bias.Current(amperes)
	}
	warm, _, err := bias.Settle(t.stage, setting, t.stage.Conditions(stage.Sine(0)))
	if err != nil {
		return "–" // its parts cannot be trimmed so far
	}
	if !warm.Settles() {
		return string(warm.Verdict)
	}
	return celsius(warm.Junction)
}

// leakage is a current that counts as none, A.
const leakage = 1e-6

// current writes a quiescent current, next to none as such.
func current(a float64) string {
	if a < leakage {
		return "none"
	}
	return amperes(a)
}

// warmKelvin is how much warmer the devices are in the step on heat.
const warmKelvin = 40

// warmth is tracking, runaway and emitter resistors.
func warmth(t *thread) (step, error) {
	s := step{id: "warmth", title: "Warm devices ask for more", figure: figureGraph, first: 1, level: t.quiet + peakDB}
	own, err := t.at(bias.Current(t.optimum))
	if err != nil {
		return s, err
	}
	s.drawing = own
	fixed, err := t.cured.evaluation.Settle(t.stage.Conditions(stage.Sine(0)))
	if err != nil {
		return s, err
	}
	tracked, err := own.evaluation.Settle(t.stage.Conditions(stage.Sine(0)))
	if err != nil {
		return s, err
	}
	air := t.spec.Thermal.Ambient
	var kelvins []float64
	currents := make([][]float64, 2)
	for k := 0.0; k <= warmKelvin; k += 4 {
		at := circuits.Uniform(air + k)
		at.Bias = air + t.spec.Thermal.Coupling*k
		kelvins = append(kelvins, air+k)
		for i, x := range []*state{t.cured, own} {
			b, err := t.stage.At(at).Set(x.setting)
			if i == 1 {
				b, err = t.ownAt(own, at)
			}
			if err != nil {
				return s, err
			}
			currents[i] = append(currents[i], b.Point().Quiescent)
		}
	}
	s.graph = currentGraph([]string{"held", "tracking"}, kelvins, currents)
	last := len(kelvins) - 1
	var p, q, r prose
	grown, followed := currents[0][last]/currents[0][0], currents[1][last]/currents[1][0]
	p.when(grown > 1, "A warm junction needs less voltage. Hold the bias at %s, let the devices warm by %s, and the current goes from %s to %s: more heat, and so more current again.",
		volts(t.cured.evaluation.Rung.Bias), format.Fixed(warmKelvin, 0)+"\u00a0K", amperes(currents[0][0]), amperes(currents[0][last]))
	p.when(grown <= 1, "These devices carry less as they warm: held at %s and warmed by %s, the current goes from %s to %s.",
		volts(t.cured.evaluation.Rung.Bias), format.Fixed(warmKelvin, 0)+"\u00a0K", amperes(currents[0][0]), amperes(currents[0][last]))
	p.when(fixed.Runaway(), "So held, this stage never comes to rest: <b>thermal runaway</b> destroys it in silence.")
	p.when(!fixed.Runaway() && !fixed.Settles(), "With a voltage that holds, it passes the limit of its junctions before it settles; where nothing stops the rise at all it is called <b>thermal runaway</b>.")
	p.when(fixed.Settles(), "Here it comes to rest, at %s; where the rise feeds itself faster than the sink carries heat away there is no rest, and that is <b>thermal runaway</b>.", celsius(fixed.Junction))
	q.say("So the bias part sits on the heatsink and lets its voltage fall with the devices': <b>tracking</b>.")
	q.when(tracked.Settles() && followed < grown, "This stage's own parts let it grow to %s its value over the same warmth, and settle at %s.", times(followed, 1), celsius(tracked.Junction))
	guard, err := t.withEmitter(&r)
	if err != nil {
		return s, err
	}
	s.text = []string{p.String(), q.String(), r.String()}
	warm, err := t.warmed(t.cured.setting, air+warmKelvin)
	if err != nil {
		return s, err
	}
	cold, err := t.cured.output("Held bias, cold", t.quiet)
	if err != nil {
		return s, err
	}
	hot, err := warm.output("Held bias, "+format.Fixed(warmKelvin, 0)+"\u00a0K warmer", t.quiet)
	if err != nil {
		return s, err
	}
	s.sounds = []sound{t.cured.input("The music", t.quiet), cold, hot}
	s.question = "Can you hear that a stage is about to run away?"
	s.answer = "Compare the two sounds: " + hot.says() + ". The danger is in the current, and a meter shows it."
	if guard > 0 {
		s.answer += " Emitter resistors of " + ohms(guard) + " are one guard here."
	}
	return s, nil
}

// ownAt biases a stage by its own parts, as they were trimmed cold, at temperatures.
func (t *thread) ownAt(own *state, at circuits.Temperatures) (*stage.Biased, error) {
	st, err := stage.New(own.evaluation.Biased().Trimmed())
	if err != nil {
		return nil, err
	}
	return st.At(at).Set(stage.AsBuilt())
}

// withEmitter says what emitter resistors do, by the same stage with a quarter of them;
// it returns their value, 0 where there are none.
func (t *thread) withEmitter(p *prose) (float64, error) {
	fitted := t.spec.Emitter.Ohms
	if !(fitted > 0) {
		return 0, nil
	}
	spec := t.spec
	spec.Emitter.Ohms = fitted / 4
	less, err := stage.New(spec)
	if err != nil {
		return 0, err
	}
	grown := func(st *stage.Stage) (float64, error) {
		b, err := st.Set(stage.Held(t.optimum))
		if err != nil {
			return 0, err
		}
		warm, err := st.At(circuits.Uniform(st.Spec().Thermal.Ambient + warmKelvin)).Set(stage.Bias(b.Point().Bias))
		if err != nil {
			return 0, err
		}
		return warm.Point().Quiescent / t.optimum, nil
	}
	with, err := grown(t.stage)
	if err != nil {
		return 0, err
	}
	without, err := grown(less)
	if err != nil {
		return 0, err
	}
	p.when(without > with, "<b>Emitter resistors</b> (%s) help too: current through them takes voltage away from its own device. With a quarter of their value the same warmth would multiply the current by %s, not by %s.",
		ohms(fitted), format.Number(without, 2), format.Number(with, 2))
	return fitted, nil
}

// loop is feedback.
func loop(t *thread) (step, error) {
	s := step{id: "feedback", title: "Feedback, and where it fails", figure: figureGain, first: 1, ways: false}
	open, err := t.builtin("pair-12w")
	if err != nil {
		return s, err
	}
	closed, err := t.builtin("pair-12w-feedback")
	if err != nil {
		return s, err
	}
	bare, err := open.at(stage.Bias(0))
	if err != nil {
		return s, err
	}
	held, err := closed.at(stage.Bias(0))
	if err != nil {
		return s, err
	}
	helped, err := closed.at(stage.AsBuilt())
	if err != nil {
		return s, err
	}
	const l level.DB = -20
	distortion := func(x *state, hertz float64) (float64, error) {
		tone, err := x.evaluation.Tone(hertz, x.ladder.Drive()*l.Amplitude())
		return tone.THD, err
	}
	var found [4]float64
	for i, c := range []struct {
		x     *state
		hertz float64
	}{{bare, toneHertz}, {held, toneHertz}, {held, 10 * toneHertz}, {helped, toneHertz}} {
		if found[i], err = distortion(c.x, c.hertz); err != nil {
			return s, err
		}
	}
	var p, q prose
	p.say("An amplifier in front that compares what comes out with what went in can correct a stage: <b>negative feedback</b>. Around a pair without bias it is put to its hardest test.")
	p.when(found[1] < found[0], "Of a tone %s under full drive, distortion falls from %s to %s.", decibels(-l), percent(found[0]), percent(found[1]))
	q.say("It does not fall to nothing, for feedback corrects by the gain around the loop, and within the dead zone the stage passes no signal: the gain of the loop is lost just where the fault is. The amplifier must leap across the zone, and for the time of the leap nobody is in charge.")
	q.when(found[2] > found[1], "The faster the wave, the less time there is: at %s it is %s.", format.Quantity(10*toneHertz, "Hz"), percent(found[2]))
	q.when(found[3] < found[1], "With its bias the same loop leaves %s: feedback polishes what bias has closed.", percent(found[3]))
	s.text = []string{p.String(), q.String()}
	alone, err := bare.output("No bias, no loop", l-peakDB)
	if err != nil {
		return s, err
	}
	looped, err := held.output("No bias, in the loop", l-peakDB)
	if err != nil {
		return s, err
	}
	both, err := helped.output("Bias, in the loop", l-peakDB)
	if err != nil {
		return s, err
	}
	s.sounds = []sound{bare.input("The music", l-peakDB), alone, looped, both}
	s.level = l
	s.question = "A loop lowers distortion by its gain, say a thousand times. Why not here?"
	s.answer = "That rule holds where the stage passes signal. Within the dead zone the stage's own gain is next to none, the loop's gain with it, and there is nothing to correct with until the amplifier has swung across."
	return s, nil
}

// remains asks whether it can be got rid of.
func remains(t *thread) (step, error) {
	s := step{id: "remains", title: "Can it be got rid of?", figure: figureTime, first: 1, drawing: t.cured, level: t.quiet + peakDB}
	left := t.healed.verdict.Residual
	var p, q, r prose
	p.say("Not wholly: two curves never join to a perfect line. At the optimum %s of the quiet music's output is still the stage's own, %s under the music. Turned up far enough, the residual is there to be heard.",
		percent(left), decibels(-level.FromAmplitude(left)))
	q.say("But alone is not how it is played. Beside the music the ear's own <b>masking</b> covers much of it: a sound makes what is weaker and near it in pitch inaudible.")
	q.when(t.healed.inaudible(), "The same residual, beside the music that made it, is predicted to be heard in %s of trials.", chance(t.healed.verdict.Detection))
	q.when(!t.healed.inaudible(), "The same residual, beside the music that made it, is predicted to be heard in %s of trials: not surely, and not never.", chance(t.healed.verdict.Detection))
	r.say("A prediction is no ear. The judge is a <b>blind test</b>, in which nobody knows what plays:")
	s.text = []string{p.String(), q.String(), r.String() + " <code>" + t.commands() + "</code>"}
	s.sounds = []sound{t.cured.input("The music", t.quiet), t.healed, t.cured.residual("The residual alone", t.quiet, residualUp)}
	s.question = "Someone says: crossover distortion can never be got rid of. Someone else: nobody hears it. What do you ask both?"
	s.answer = fmt.Sprintf("How much, beside which music, how loud, and judged how? It is never zero (%s here), and whether it is heard is a matter of measurement: blind, with enough trials, and with the level matched.", percent(left))
	return s, nil
}

// residualUp is the make-up of the last residual.
const residualUp level.DB = 40

// commands are those that prepare and open a blind test of the thread's stage.
func (t *thread) commands() string {
	return fmt.Sprintf("quietcross render --stage %s --material %s --level %d --out class; quietcross panel open class",
		shellWord(t.argument), piece, int(math.Round(float64(t.quiet+level.FromAmplitude(t.excerpt.Gain)))))
}

// shellWord protects a word from a shell.
func shellWord(word string) string {
	if strings.Trim(word, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./:=@%+,") == "" {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
