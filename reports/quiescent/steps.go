package quiescent

import (
	"fmt"

	"quietcross/reports/view/format"
)

// How the parts and the steps of setting a bias are said.

// bought says which parts set the current.
func bought(r *Result) []string {
	p := r.Parts
	if p == nil {
		return nil
	}
	if p.Refusal != "" {
		list := []string{"No part of this stage sets the current: " + p.Refusal + "."}
		for _, o := range p.Others {
			list = append(list, "It would be set by "+o.What+": "+amperes(o.Cold)+" cold"+warm(o.Warm)+".")
		}
		return list
	}
	if p.open() {
		return []string{
			fmt.Sprintf("The parts of the stage file as given set it: %s is fitted.", p.Part()),
			fmt.Sprintf("As built the stage has %s cold%s.", amperes(p.Cold), warm(p.Warm)),
			coupled(p),
		}
	}
	list := []string{fmt.Sprintf("The current is set by the %s (%s), %s: %s.", p.Name, p.Key, ohms(p.Value, p.Unit), divided(p))}
	reach := fmt.Sprintf("Over the tolerances of the parts and a bench of %s to %s it must reach from %s to %s",
		celsius(r.bench[0]), celsius(r.bench[1]), ohms(p.Lowest, p.Unit), ohms(p.Highest, p.Unit))
	if !p.Reaches {
		reach += ", and some units cannot be set even so"
	}
	list = append(list, reach+".",
		fmt.Sprintf("The nearest of E%d alone, %s without a trimmer, gives %s.", p.Series, ohms(p.Alone, p.Unit), amperes(p.AloneCurrent)),
		fmt.Sprintf("With these parts the stage has %s as built, cold%s.", amperes(p.Cold), warm(p.Warm)))
	return append(list, coupled(p))
}

// openOhms is a resistance over which a part is as good as not fitted.
const openOhms = 1e9

// open tells that the trimmed part is not fitted.
func (p *Parts) open() bool { return p.Unit == "ohm" && p.Value > openOhms }

// Part says of what value the part is that sets the current, or that none is fitted.
func (p *Parts) Part() string {
	if p.open() {
		return "no " + p.Name
	}
	return p.Name + " of " + ohms(p.Value, p.Unit)
}

func ohms(v float64, unit string) string { return value(v, unit) }

func divided(p *Parts) string {
	trimmer := fmt.Sprintf("a trimmer of %s", ohms(p.Trimmer, p.Unit))
	if p.Fixed == 0 {
		return fmt.Sprintf("%s, set to about %s", trimmer, ohms(p.Set, p.Unit))
	}
	return fmt.Sprintf("%s of E%d and %s in series, set to about %s", ohms(p.Fixed, p.Unit), p.Series, trimmer, ohms(p.Set, p.Unit))
}

func warm(q *float64) string {
	if q == nil {
		return ", and must not be run: it does not settle within its limits"
	}
	return ", and " + amperes(*q) + " settled at rest"
}

// coupled says what thermal coupling the bias part needs.
func coupled(p *Parts) string {
	text := fmt.Sprintf("The bias part follows %s of the sink's rise. ", format.Percent(p.Coupling, 2))
	switch {
	case p.Even == nil:
		text += "Not even a part at the sink's own temperature would hold the current as the stage warms up"
	case *p.Even == 0:
		text += "The current does not rise as the stage warms up, even with the part in still air"
	default:
		text += fmt.Sprintf("It would hold the current as the stage warms up at %s", format.Percent(*p.Even, 2))
	}
	switch {
	case p.Least == nil:
		text += ", and half of the loop gain that runs away is passed at any coupling"
	case *p.Least > 0:
		text += fmt.Sprintf("; it must follow at least %s for half of the loop gain that runs away", format.Percent(*p.Least, 2))
	}
	return text + "."
}

// minimum says how the bias is brought to its minimum.
func minimum(p *Parts) string {
	switch {
	case p == nil || p.Refusal != "":
		return "Set the bias to its minimum."
	case p.open():
		return "The bias is fixed by the parts of the stage file."
	case p.Rises:
		return fmt.Sprintf("Turn the trimmer to its least resistance: that is the least current that the %s gives.", p.Name)
	}
	return fmt.Sprintf("Turn the trimmer to its most resistance: that is the least current that the %s gives.", p.Name)
}

// steps are how to set the bias, one after another.
func steps(r *Result) []string {
	g := r.Guide
	first := fmt.Sprintf("%s With everything at %s, no signal, a dummy load in place, switch on from a current-limited supply. Check first that the output rests near 0 V, or a coupling capacitor blocks it.",
		minimum(r.Parts), celsius(g.Kelvin))
	turn, fixed := "raise the bias", r.Parts != nil && r.Parts.Refusal == "" && r.Parts.open()
	if r.Parts != nil && r.Parts.Refusal == "" && !r.Parts.open() {
		turn = "turn the trimmer slowly, to about " + ohms(r.Parts.Set, r.Parts.Unit) + ","
	}
	if g.EmitterOhms == 0 {
		return []string{
			first,
			fmt.Sprintf("This stage has no emitter resistors to measure across: measure the current in the supply line, and %s until the output devices carry %s.", turn, amperes(g.Quiescent)),
			fmt.Sprintf("Let it warm up with no signal for %s: the stage then draws %s and its sink settles near %s.", format.Duration(g.Seconds), format.Quantity(g.Supply, "W"), celsius(g.Sink)),
			healthy(r, func(q float64) string { return amperes(q) + " in each output device" }),
		}
	}
	volts := func(q float64) string { return format.Quantity(q*g.EmitterOhms, "V") }
	set := fmt.Sprintf("Measure across each emitter resistor of %s, and %s until the readings are %s in the mean: %s through each, with everything still cold.",
		format.Quantity(g.EmitterOhms, "Ω"), turn, format.Quantity(g.Cold, "V"), amperes(g.Quiescent))
	if fixed {
		set = fmt.Sprintf("Nothing is turned: measure across each emitter resistor of %s. With everything still cold nominal parts read %s in the mean, %s through each; a %s would take the current back.",
			format.Quantity(g.EmitterOhms, "Ω"), format.Quantity(g.Cold, "V"), amperes(g.Quiescent), r.Parts.Name)
	}
	list := []string{
		first, set,
		fmt.Sprintf("Let it warm up with no signal for %s, and watch: in air of %s the readings come to about %s, the stage draws %s and its sink settles near %s.",
			format.Duration(g.Seconds), celsius(g.Kelvin), format.Quantity(g.Warm, "V"), format.Quantity(g.Supply, "W"), celsius(g.Sink)),
	}
	if g.ForWarm > 0 && !fixed {
		list = append(list, fmt.Sprintf("It is the warm current that plays the music: trim once more when warm, back to %s, if the figures of this report are to hold then. Setting %s cold arrives there by itself.",
			format.Quantity(g.Cold, "V"), format.Quantity(g.ForWarm, "V")))
	}
	return append(list, healthy(r, volts))
}

// healthy says what a healthy unit reads.
func healthy(r *Result, reading func(quiescent float64) string) string {
	g := r.Guide
	made := "that was set cold"
	if r.Parts != nil && r.Parts.Refusal == "" && r.Parts.open() {
		made = "with these fixed parts"
	}
	text := fmt.Sprintf("A healthy unit %s reads %s to %s at rest once warm, in air of %s to %s and with the tolerances of its parts, its sink and the mounting of its bias part. ",
		made, reading(g.LowQuiescent), reading(g.HighQuiescent), celsius(r.Limits.Coldest), celsius(r.Limits.Hottest))
	if g.Runs {
		text += "A unit at the end of its tolerances runs away in the hottest air: couple the bias part more closely. "
	}
	return text + "More than that, or a reading that still rises after that time, is a fault: switch off. Less is a wrong part or a cold joint. A reading that differs between the two sides by more than the resistors do is a mismatched pair."
}
