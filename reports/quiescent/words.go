package quiescent

import (
	"fmt"
	"strings"

	"quietcross/reports/audibility"
	"quietcross/reports/view/format"
)

// answer says the recommendation in words.
func answer(r *Result) []string {
	rec := r.Recommendation
	if !rec.Met {
		return []string{noAnswer(r)}
	}
	lines := []string{fmt.Sprintf("Any quiescent current from %s to %s meets all limits; %s is the one to set.",
		amperes(rec.Minimum), amperes(rec.Maximum), amperes(rec.Set))}
	if rec.Minimum == 0 {
		lines = append(lines, "Even without bias no difference is predicted audible on this material at these levels.")
	} else {
		lines = append(lines, fmt.Sprintf("Below %s a difference is predicted audible on %s%s.", amperes(rec.Minimum), rec.MinimumBy, expected(rec.Expected)))
	}
	above := fmt.Sprintf("Above %s the limit that binds is: %s.", amperes(rec.Maximum), rec.MaximumBy)
	if rec.MaximumBy == BindsSweep {
		above = fmt.Sprintf("No limit binds up to %s, where the sweep ends; class A up to full scale takes %s.", amperes(rec.Maximum), amperes(r.ClassA))
	}
	return append(lines, above, optimum(r))
}

// expected writes the interval of a threshold, where there is one.
func expected(i *audibility.Interval) string {
	if i == nil {
		return ""
	}
	return "; the threshold is to be expected from " + i.String()
}

// optimum says how the current to set stands to the optimum-bias condition.
func optimum(r *Result) string {
	rec := r.Recommendation
	if rec.Optimum == 0 {
		return "No optimum-bias condition is known for this circuit with these parts: the current to set is twice the minimum, for a margin."
	}
	text := fmt.Sprintf("The optimum-bias condition is %s", amperes(rec.Optimum))
	if rec.Balance > 0 {
		text += fmt.Sprintf("; by the stage as solved, base currents included, the gain at rest equals that at full swing at %s", amperes(rec.Balance))
	}
	switch {
	case !rec.Met:
	case rec.Set < rec.Optimum:
		text += "; it lies above the range"
	case rec.Set > rec.Optimum:
		text += "; it lies below the range"
	}
	return text + "."
}

// chance writes a probability.
func chance(p float64) string {
	if p < 1e-4 {
		return "under 0.01\u00a0%"
	}
	return format.Percent(p, 2)
}

func noAnswer(r *Result) string {
	rec := r.Recommendation
	if !rec.MinimumKnown {
		return fmt.Sprintf("No quiescent current meets all limits: up to class A a difference is predicted audible on %s.", rec.MinimumBy)
	}
	var names []string
	for _, b := range rec.Binds {
		names = append(names, string(b))
	}
	heat := "heat allows at most " + amperes(rec.Maximum)
	if rec.Maximum == 0 {
		heat = "heat allows none"
	}
	hearing := "hearing asks for none"
	if rec.Minimum > 0 {
		hearing = fmt.Sprintf("hearing asks for at least %s (%s)", amperes(rec.Minimum), rec.MinimumBy)
	}
	return fmt.Sprintf("No quiescent current meets all limits: %s, and %s. What binds: %s.", hearing, heat, strings.Join(names, " and "))
}

// remedy says what a change does.
func remedy(m *Remedy) []string {
	return []string{m.Key, value(m.From, m.Unit), value(m.To, m.Unit), amperes(m.Quiescent), worked(m), m.Note}
}

func value(v float64, unit string) string {
	switch {
	case unit == "" && v == 0:
		return "–"
	case unit == "":
		return format.Number(v, 3)
	case unit == "K/W":
		return format.Number(v, 3) + "\u00a0K/W"
	case unit == "ohm":
		return format.Quantity(v, "Ω")
	}
	return format.Quantity(v, unit)
}

func worked(m *Remedy) string {
	if m.Works {
		return "yes"
	}
	return "no"
}

// steps are how to set the bias, one after another.
func steps(r *Result) []string {
	g := r.Guide
	if g.EmitterOhms == 0 {
		return []string{
			fmt.Sprintf("Set the bias to its minimum. With everything at %s switch on, no signal, the load disconnected or a dummy load in place.", celsius(g.Kelvin)),
			fmt.Sprintf("This stage has no emitter resistors to measure across: measure the current in the supply line and raise the bias until the output devices carry %s.", amperes(g.Quiescent)),
			fmt.Sprintf("Let it warm up with no signal: the stage then draws %s and its sink settles near %s.", format.Quantity(g.Supply, "W"), celsius(g.Sink)),
		}
	}
	list := []string{
		fmt.Sprintf("Set the bias to its minimum. With everything at %s switch on, no signal, a dummy load in place. Check first that the output rests near 0 V.", celsius(g.Kelvin)),
		fmt.Sprintf("Measure across each emitter resistor of %s, and raise the bias until the readings are %s in the mean: %s through each.",
			format.Quantity(g.EmitterOhms, "Ω"), format.Quantity(g.Cold, "V"), amperes(g.Quiescent)),
		fmt.Sprintf("Let it warm up with no signal. If left alone the readings come to about %s, the stage draws %s and its sink settles near %s.",
			format.Quantity(g.Warm, "V"), format.Quantity(g.Supply, "W"), celsius(g.Sink)),
	}
	if g.ForWarm > 0 {
		list = append(list, fmt.Sprintf("It is the warm current that plays the music: trim once more when warm, back to %s. Setting %s cold arrives there by itself.",
			format.Quantity(g.Cold, "V"), format.Quantity(g.ForWarm, "V")))
	}
	return append(list, fmt.Sprintf("From %s to %s air an untrimmed reading at rest stays between %s and %s. Outside of that something is wrong: switch off.",
		celsius(r.Limits.Coldest), celsius(r.Limits.Hottest), format.Quantity(g.Low, "V"), format.Quantity(g.High, "V")))
}
