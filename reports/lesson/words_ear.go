package lesson

import (
	"math"

	"quietcross/reports/view/format"
	"quietcross/stage"
)

// The first part: from what is heard to its cause.

// fault lets the class hear before anything is explained.
func fault(t *thread) (step, error) {
	var p, q, r prose
	p.say("Play the music as it goes in, then as it comes out: the same notes, equally loud, with only an output stage between. Let the class find its own words for what was added before anyone explains it.")
	q.say("This is a quiet passage: its peaks are %s, where full drive, just under clipping, is %s. Turned up behind the stage, as one turns up a soft recording, %s of what is heard is not music.",
		volts(t.volts(t.quiet)), volts(t.ladder.Drive()), percent(t.soft.verdict.Residual))
	q.when(t.loud.verdict.Residual < t.soft.verdict.Residual,
		"Played loud through the same stage it is %s: the fault does not shrink as the music does, and so quiet music suffers most.", percent(t.loud.verdict.Residual))
	r.say("The third button leaves the music as quiet as it is, as one listens to a soft passage between loud ones.")
	r.when(t.softLeft.audible(), "The fault sinks with it, and is predicted to be heard all the same.")
	return step{
		id: "fault", title: "A fault in quiet music",
		text: []string{p.String(), q.String(), r.String()},
		sounds: []sound{
			t.none.input("The music", t.quiet), t.soft, t.softLeft, t.loud,
		},
		first: 1, figure: figureTime, drawing: t.none, level: t.quiet + peakDB,
		question: "Which of the last three sounds is damaged most, and is it the one that annoys most?",
		answer: "By share: quiet " + percent(t.soft.verdict.Residual) + ", loud " + percent(t.loud.verdict.Residual) +
			" of what is heard is not music. What annoys is the class's to say: the figures count damage, not annoyance.",
	}, nil
}

// gap shows where the damage is done.
func gap(t *thread) (step, error) {
	var p, q prose
	zone := t.none.evaluation.DeadZone
	loud, err := t.none.thd(0)
	if err != nil {
		return step{}, err
	}
	soft, err := t.none.thd(t.quiet + peakDB)
	if err != nil {
		return step{}, err
	}
	p.say("Follow the dot on the curve. Far from zero the output goes with the input; about zero it stays where it is. Over %s of input, half of it on either side, hardly anything comes out: the <b>dead zone</b>.", volts(zone))
	p.say("Each time the wave crosses zero it falls in. Damage done there has a name of its own, <b>crossover distortion</b>.")
	q.say("The zone has one width, whatever is played. Full drive reaches %s beyond its edges, this music only %s.",
		volts(t.ladder.Drive()-zone/2), volts(t.volts(t.quiet)-zone/2))
	q.when(soft > loud, "So the harmonics added to a tone, %s of it at full drive, make %s at the peaks of the quiet music.", percent(loud), percent(soft))
	q.say("The residual is what is left when the music is taken out: hear how it lives on crossings of zero, not on loud notes.")
	return step{
		id: "gap", title: "The cause: a dead zone about zero",
		text: []string{p.String(), q.String()},
		sounds: []sound{
			t.none.input("The music", t.quiet), t.soft,
			t.none.residual("The residual alone", t.quiet, 0), t.loud,
		},
		first: 1, figure: figureTransfer, drawing: t.none, level: t.quiet + peakDB,
		question: "A sine just as high as the zone is wide on one side of zero (" + volts(zone/2) + ") goes in. What comes out?",
		answer:   "Next to nothing: it never leaves the dead zone. Distortion is not the word for it any more; the music is gone.",
	}, nil
}

// halves explains the zone by who conducts when.
func halves(t *thread) (step, error) {
	var p, q prose
	quiet, err := t.none.evaluation.Biased().Power(t.ladder.Drive() * (t.quiet + peakDB).Amplitude())
	if err != nil {
		return step{}, err
	}
	full, err := t.none.evaluation.Biased().Power(t.ladder.Drive())
	if err != nil {
		return step{}, err
	}
	outputs := t.none.evaluation.Biased().Outputs()
	angle := func(p stage.Power) float64 { return p.Devices[outputs[0]].Conduction * 180 / math.Pi }
	p.say("Two devices work in <b>push-pull</b>. While the wave is above zero the upper one pushes current into the load (orange); while it is below, the lower one pulls it back out (blue). Each does half of the wave and rests for the other half: <b>class B</b>.")
	p.when(t.none.evaluation.IdleDissipation < nextToNone, "What rests draws nothing: with no signal the stage takes %s from its supplies.", watts(t.none.evaluation.IdleDissipation))
	q.say("But no device conducts before the voltage at its input has reached its turn-on, and nothing here gives it any in advance. A half-wave should be 180° of each cycle; the upper device works for %s° of it at full drive and %s° in the quiet music.",
		format.Fixed(angle(full), 0), format.Fixed(angle(quiet), 0))
	q.when(angle(quiet) < angle(full), "Between one device's end and the other's beginning nobody works: that is the zone.")
	return step{
		id: "halves", title: "Who works when: class B in push-pull",
		text:   []string{p.String(), q.String()},
		sounds: []sound{t.none.input("The music", t.quiet), t.soft, t.loud},
		first:  1, figure: figureCurrents, drawing: t.none, ways: true, level: t.quiet + peakDB,
		question: "In which moments does neither device carry current?",
		answer:   "About each crossing of zero, as long as the input is within the dead zone: in the figure of the currents both curves lie on zero there.",
	}, nil
}

// windings shows the older push-pull.
func windings(t *thread) (step, error) {
	grounded, err := t.builtin("push-pull-dead-zone")
	if err != nil {
		return step{}, err
	}
	helped, err := t.builtin("push-pull-diode")
	if err != nil {
		return step{}, err
	}
	bare, err := grounded.at(stage.AsBuilt())
	if err != nil {
		return step{}, err
	}
	biased, err := helped.at(stage.AsBuilt())
	if err != nil {
		return step{}, err
	}
	dead, err := bare.output("Tap at earth, no bias", maximumLevel)
	if err != nil {
		return step{}, err
	}
	alive, err := biased.output("The tap held up by a diode", loudLevel)
	if err != nil {
		return step{}, err
	}
	var p, q prose
	p.say("Here both devices are alike. The input transformer hands each of them the wave, to one of them upside down; the output transformer joins the halves again, each current running through its own half of the winding.")
	p.when(t.isComplementary(), "The stage before saves the transformers by two devices that are mirror images: a <b>complementary pair</b>.")
	q.say("The fault is the same, because the cause is the same. With the tap of the input winding at earth the dead zone is %s wide at the input.", volts(bare.evaluation.DeadZone))
	q.when(biased.evaluation.DeadZone == 0, "Lift the tap by the voltage of one diode and the zone is gone; %s then flow in each device at rest.", amperes(biased.evaluation.Quiescent))
	q.say("Each stage is driven as far as it goes.")
	return step{
		id: "windings", title: "The same with transformers",
		text:   []string{p.String(), q.String()},
		sounds: []sound{bare.input("The music", maximumLevel), dead, alive},
		first:  1, figure: figureCurrents, ways: true, level: 0,
		question: "Why must the winding be tapped in its middle?",
		answer:   "Its ends move against each other about the tap: what is up for one device is down for the other. The tap is also the place at which one voltage reaches both inputs, and so the place for a bias.",
	}, nil
}

// isComplementary tells that a stage's devices are mirror images.
func (s *subject) isComplementary() bool { return s.spec.Circuit != "transformer-push-pull" }
