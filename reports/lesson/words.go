package lesson

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

// watts writes a power; less than a microwatt is next to nothing.
func watts(v float64) string {
	if v < 1e-6 {
		return "next to nothing"
	}
	return format.Quantity(v, "W")
}

func amperes(v float64) string { return format.Quantity(v, "A") }
func volts(v float64) string   { return format.Digits(v, 2, "V") }
func percent(v float64) string { return format.Percent(v, 2) }

// down writes how far a level lies under full volume.
func down(l level.DB) string { return format.Fixed(-float64(l), 0) + "\u00a0dB down" }

// chance writes a probability of detection.
func chance(p float64) string {
	switch {
	case p < 1e-3:
		return "under 0.1\u00a0%"
	case p > 0.999:
		return "over 99.9\u00a0%"
	}
	return format.Percent(p, 2)
}

// times writes how many times one power is another.
func times(a, b float64) string { return format.Number(a/b, 2) }

// degrees writes the minimum conduction angle of the output devices.
func degrees(p stage.Power, outputs []int) string {
	minimum := 2 * math.Pi
	for _, o := range outputs {
		minimum = min(minimum, p.Devices[o].Conduction)
	}
	return format.Fixed(minimum*180/math.Pi, 0) + "°"
}

func (s *step) degrees(p stage.Power) string { return degrees(p, s.scene.biased.Outputs()) }

func classA(s *step, _ []step) error {
	rest, full := s.scene.rest, s.scene.full()
	s.text = []string{
		fmt.Sprintf("One transistor carries the whole wave. For that it must never stop conducting: with no signal it already passes %s, about half of the most it will ever pass, and the signal moves that current up and down.", amperes(s.scene.quiescent())),
		fmt.Sprintf("Nothing is missing from the wave, so there is no crossover. The price stands in the power figure: the stage draws %s whether it plays or not. In silence all of it is heat; at full volume %s goes to the load.", watts(rest.Supply), watts(full.Load)),
	}
	s.question = "You turn the volume from silence to full. Does the transistor get hotter or cooler?"
	s.answer = []string{
		fmt.Sprintf("Cooler. What is drawn hardly changes, and what reaches the load no longer heats the transistor: its heat falls from %s in silence to %s at full volume. A class A stage is hottest when nobody listens.",
			watts(rest.Dissipation()), watts(full.Dissipation())),
		fmt.Sprintf("And it must be: the stage draws at rest %s times what it can deliver.", times(rest.Supply, full.Load)),
	}
	return nil
}

func turnOn(s *step, all []step) error {
	full := s.scene.full()
	s.text = []string{
		fmt.Sprintf("Now the same transistor is biased just at the point where it begins to conduct. At rest it passes %s in place of %s, and its heat in silence is %s in place of %s; what else the stage draws goes into the divider that makes the bias.",
			amperes(s.scene.quiescent()), amperes(all[0].scene.quiescent()), watts(s.scene.rest.Dissipation()), watts(all[0].scene.rest.Dissipation())),
		"It is cool, and it is useless alone: when the input goes the wrong way there is nothing left to turn down, and half of every cycle is lost. Look at the transfer curve: it bends flat on one side.",
		"The sound is not merely half as loud. A wave with its halves treated differently has even harmonics, of which the original has none.",
	}
	s.question = "For how much of each cycle does the transistor conduct at full volume, and does turning the volume up help?"
	s.answer = []string{fmt.Sprintf("For %s of 360°. The point where it turns on does not move with the signal, so playing louder brings back nothing of the lost half.", s.degrees(full))}
	return nil
}

// deadZone returns the input voltages between which a stage passes next to
// nothing.
func (s *step) deadZone() (float64, error) {
	c, err := s.scene.biased.Crossover()
	return c.DeadZone, err
}

// missing is the part of a sine's cycle that lies within a dead zone of a width,
// for a peak, both V.
func missing(width, peak float64) float64 {
	return 2 / math.Pi * math.Asin(min(1, width/2/peak))
}

func deadZone(s *step, _ []step) error {
	width, err := s.deadZone()
	if err != nil {
		return err
	}
	peak := s.scene.Drive
	s.text = []string{
		fmt.Sprintf("Two such transistors, one for each half. An input transformer with a centre tap gives each its half the right way up; an output transformer joins the halves again. In silence the stage draws %s.", watts(s.scene.rest.Supply)),
		fmt.Sprintf("But a transistor does not begin at nought. Each waits until its base is more than half a volt up, and the transformer's ratio makes that %s at the input, from side to side, in which neither conducts: the dead zone at every crossing of the axis.", volts(width)),
		"Turn the volume down with the slider and watch the picture, which keeps its size. The dead zone stays as wide as it is, and the wave shrinks into it.",
	}
	low := quiet.Amplitude() * peak
	s.question = fmt.Sprintf("The full input is %s peak. What share of each cycle is missing at full volume, and what share 20 dB down?", volts(peak))
	s.answer = []string{
		fmt.Sprintf("A sine stays within ±%s for 2/π · arcsin(%s/%s) of its cycle: %s at full volume. 20 dB down the peak is %s, and the share is %s.",
			volts(width/2), volts(width/2), volts(peak), percent(missing(width, peak)), volts(low), percent(missing(width, low))),
		fmt.Sprintf("The distortion of a tone goes from %s to %s. Crossover distortion is a fault of quiet music.", percent(s.scene.thd(0)), percent(s.scene.thd(-20))),
	}
	if missing(width, low) == 1 {
		s.text = append(s.text, "Then listen to the soft passage: nothing comes out at all.")
		s.answer[1] = fmt.Sprintf("At full volume a tone has %s of distortion. 20 dB down nothing but leakage is left of it: the passage is gone. Crossover distortion is a fault of quiet music.", percent(s.scene.thd(0)))
	}
	return nil
}

func resistor(s *step, all []step) error {
	divider, err := stage.Lookup("push-pull-divider")
	if err != nil {
		return err
	}
	better, err := maximum(divider)
	if err != nil {
		return err
	}
	width, err := all[2].deadZone()
	if err != nil {
		return err
	}
	soft := quiet.Amplitude() * s.scene.Drive
	before := "the dead zone let nothing of it through"
	if missing(width, soft) < 1 {
		before = "the dead zone took " + percent(missing(width, soft)) + " of its cycle"
	}
	spec := s.spec
	base := (spec.Supply.Positive - 0.7) / spec.Tap.Upper
	most := base * spec.Upper.ForwardGain
	full := s.scene.full()
	peak := 0.0
	for _, o := range s.scene.biased.Outputs() {
		peak = max(peak, full.Devices[o].Current)
	}
	s.text = []string{
		fmt.Sprintf("The cure is to have both transistors already awake. The simplest part is one resistor of %s from the supply to the centre tap: its current goes into the bases and, multiplied, comes out as a quiescent current of %s.",
			format.Quantity(spec.Tap.Upper, "Ω"), amperes(s.scene.quiescent())),
		fmt.Sprintf("A soft tone of %s at the input now comes out with %s of distortion; %s.", volts(soft), percent(s.scene.thd(quiet)), before),
		fmt.Sprintf("But the resistor has to feed the bases all the time, and it cannot give more when the music asks for more: it starves them. This stage reaches %s in the load; the same transistors with a stiff divider and a capacitor on the tap reach %s.", watts(full.Load), watts(better)),
	}
	s.question = fmt.Sprintf("The transistors multiply their base current by %s. How much collector current can the resistor feed?", format.Number(spec.Upper.ForwardGain, 3))
	s.answer = []string{
		fmt.Sprintf("About 0.7 V stands at the tap, so %s flow through the resistor, and %s times that is %s. The solved stage peaks at %s at its full volume, before the wave flattens.",
			amperes(base), format.Number(spec.Upper.ForwardGain, 3), amperes(most), amperes(peak)),
	}
	return nil
}

// maximum is the power of a stage as built into its load at its drive, W.
func maximum(spec stage.Spec) (float64, error) {
	st, err := stage.New(spec)
	if err != nil {
		return 0, err
	}
	b, err := st.Set(stage.AsBuilt())
	if err != nil {
		return 0, err
	}
	p, err := b.Power(b.Drive())
	return p.Load, err
}

func unbiased(s *step, _ []step) error {
	width, err := s.deadZone()
	if err != nil {
		return err
	}
	s.text = []string{
		"With one transistor of each polarity the transformers can go. The upper one follows the input upward, the lower one downward, and both work straight into the loudspeaker.",
		fmt.Sprintf("With nothing between the bases the dead zone is back: %s wide at the input, whatever the volume. In silence no current flows.", volts(width)),
	}
	s.question = "Is the dead zone worse when the stage plays loud or when it plays soft?"
	s.answer = []string{fmt.Sprintf("Soft, by far. A tone at full volume has %s of distortion, 20 dB down %s, 30 dB down %s.",
		percent(s.scene.thd(0)), percent(s.scene.thd(-20)), percent(s.scene.thd(-30)))}
	return nil
}

func diodes(s *step, all []step) error {
	soft := s.scene.at(faint)
	hot, part, err := hottest(s.scene)
	if err != nil {
		return err
	}
	short := ""
	if part > 0.5 {
		short = " This one runs out of base current and clips before it gets there, so that its full power is less and the share is more."
	}
	s.text = []string{
		fmt.Sprintf("Two diodes between the bases hold them apart by two junctions' worth, about what the two transistors need to be awake. Each now passes %s with no signal, and around the crossing both work together: what one gives up the other takes over.", amperes(s.scene.quiescent())),
		fmt.Sprintf("The dead zone is gone. 20 dB down a tone has %s of distortion where it had %s without bias.", percent(s.scene.thd(-20)), percent(all[4].scene.thd(-20))),
		fmt.Sprintf("The price is small: the stage draws %s in silence, against %s without bias.", watts(s.scene.rest.Supply), watts(all[4].scene.rest.Supply)),
	}
	s.question = "At which volume do the transistors get hottest?"
	s.answer = []string{
		fmt.Sprintf("Not at full volume. Their heat peaks, %s, where the load gets %s of full power. For an ideal pair that swings to its rails it is (2/π)², which is 41 %%.%s", watts(hot), percent(part), short),
		fmt.Sprintf("And for how long does each conduct 40 dB down? For %s: in soft music both are on all the time, and this is class A.", s.degrees(soft)),
	}
	return nil
}

// hottest returns the maximum heat in the devices over all volumes up to
// clipping, W, and the power in the load there over that at clipping.
func hottest(s *scene) (heat, part float64, err error) {
	lo, hi := s.biased.Clip()
	clip := min(-lo, hi)
	full, err := s.biased.Power(clip)
	if err != nil {
		return 0, 0, err
	}
	for i := 30; i <= 100; i++ {
		p, err := s.biased.Power(clip * float64(i) / 100)
		if err != nil {
			return 0, 0, err
		}
		if p.Dissipation() > heat {
			heat, part = p.Dissipation(), p.Load/full.Load
		}
	}
	return heat, part, nil
}

// myth is a common simplification and what the stages of this page say.
type myth struct{ Said, Found string }

func myths(all []step) ([]myth, error) {
	a, b, pair, open := all[0].scene, all[3].scene, all[5].scene, all[4].scene
	_, part, err := hottest(open)
	if err != nil {
		return nil, err
	}
	return []myth{
		{
			"Class A is 50 % efficient.",
			fmt.Sprintf("At its very loudest, with an ideal transformer, it would be. At rest it draws all the same: at least twice what it can deliver, here %s times; and at least four times where the load itself is the resistor that feeds the collector, for then the collector can swing by half of the supply only. %s this one is %s efficient.",
				times(a.rest.Supply, a.full().Load), down(quiet), percent(a.at(quiet).Efficiency)),
		},
		{
			"A class B stage is hottest at full volume.",
			fmt.Sprintf("It is hottest where the load gets about 40 %% of full power: %s for the pair without bias.", percent(part)),
		},
		{
			"The diodes switch one transistor off while the other works, and at rest no current flows.",
			fmt.Sprintf("At rest both pass %s. 40 dB down each conducts for %s of 360°, and at full volume still for %s.",
				amperes(pair.quiescent()), degrees(pair.at(faint), pair.biased.Outputs()), degrees(pair.full(), pair.biased.Outputs())),
		},
		{
			"One resistor to the tap makes the bias.",
			fmt.Sprintf("It makes the bias at rest, %s, and starves the bases when the music is loud: the load gets at most %s.", amperes(b.quiescent()), watts(b.full().Load)),
		},
		{
			"More bias is always better.",
			"Distortion of loud tones rises again beyond the optimum, for both transistors then share more of the cycle than they hand over; and the heat grows with the current. Move the slider to its end and see.",
		},
	}, nil
}
