package quiescent

import (
	"fmt"
	"slices"
	"strings"

	"quietcross/reports/audibility"
	"quietcross/reports/view/format"
)

// Rule says how a current is chosen.
const Rule = "The rule: of the currents that meet every limit with its margin, that of audibility cold and over the currents that the stage comes to in use " +
	"(settled at rest and with the material, and in the quiet after a loud minute; in the coldest and the hottest air without the margin), the one that costs least heat at rest, moved up only where " +
	"the gain is worth the heat: half the mean distortion, or half the amplification of drift, for up to twice the power at rest. " +
	"It is never moved past the numerically best current, if hearing does not ask for more, never lies under a tenth of that, and nothing in the table beats it in everything."

// answer says the recommendation in words.
func answer(r *Result) []string {
	rec := &r.Recommendation
	if !rec.Met {
		return append([]string{noAnswer(r)}, places(r)...)
	}
	lines := []string{fmt.Sprintf("Set %s: %s.", amperes(rec.Set), because(rec))}
	if rec.InUse > 0 {
		lines = append(lines, fmt.Sprintf("Up to the numerically best current the stage drifts in use to where a difference is predicted audible; from %s on it does not.", amperes(rec.InUse)))
	}
	if use := r.Chosen.Use; use != nil {
		lines = append(lines, use.words()+".")
	}
	switch {
	case rec.Minimum == 0 && rec.Margin == 0:
		lines = append(lines, "Even without bias no difference is predicted audible on this material at these levels.")
	default:
		lines = append(lines, fmt.Sprintf("Below %s a difference is predicted audible on %s%s; with its margin, the upper end of the prediction's interval under the limit, hearing asks for %s%s.",
			amperes(rec.Minimum), or2(rec.MinimumBy, "nothing"), expected(rec.Expected), amperes(rec.Margin), by(rec.MarginBy)))
	}
	if text := meeting(r); text != "" {
		lines = append(lines, text)
	}
	lines = append(lines, above(r))
	lines = append(lines, moves(r)...)
	return append(lines, places(r)...)
}

func or2(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

func by(piece string) string {
	if piece == "" {
		return ""
	}
	return " (" + piece + ")"
}

// stretches are the currents, from and to, A, between which every current of the table
// meets every limit with its margin, the ends of the range put in where they lie between
// two of them.
func stretches(r *Result) [][2]float64 {
	rec := &r.Recommendation
	var list [][2]float64
	last := 0.0 // the rung before
	inside := false
	for i := range r.Rungs {
		g := &r.Rungs[i]
		meets := g.Quiescent > 0 && g.Refusal == "" && len(g.Breaks) == 0 && g.Quiescent >= rec.Margin && rec.MarginKnown && g.clear(r.bars())
		switch {
		case meets && !inside:
			from := g.Quiescent
			if rec.Margin > last {
				from = rec.Margin
			}
			list = append(list, [2]float64{from, g.Quiescent})
		case meets:
			list[len(list)-1][1] = g.Quiescent
		case inside && rec.Maximum > last && rec.Maximum < g.Quiescent:
			list[len(list)-1][1] = rec.Maximum
		}
		last, inside = g.Quiescent, meets
	}
	return list
}

// meeting says between which currents every limit is met with its margin.
func meeting(r *Result) string {
	var list []string
	for _, s := range stretches(r) {
		list = append(list, amperes(s[0])+" to "+amperes(s[1]))
	}
	if len(list) == 0 {
		return ""
	}
	return "Every limit is met with its margin from " + strings.Join(list, ", and from ") + "."
}

// because says what decided.
func because(rec *Recommendation) string {
	switch rec.Why {
	case ByExchange:
		return "more than hearing asks for, as the gain in distortion is worth the heat up to there"
	case ByBest:
		return "the numerically best point of this stage, and worth its heat"
	}
	return "the least heat that meets every limit with its margin"
}

// above says what binds above.
func above(r *Result) string {
	rec := &r.Recommendation
	if rec.MaximumBy == BindsSweep {
		return fmt.Sprintf("No limit of heat binds up to %s, where the sweep ends; class A up to full scale takes %s.", amperes(rec.Maximum), amperes(r.ClassA))
	}
	var list []string
	for _, l := range rec.Ceilings {
		list = append(list, fmt.Sprintf("%s above %s", l.Limit, amperes(l.Maximum)))
	}
	return "What binds above: " + strings.Join(list, ", ") + "."
}

// expected writes the interval of a threshold, where there is one.
func expected(i *audibility.Interval) string {
	if i == nil {
		return ""
	}
	return ", the threshold to be expected from " + i.String()
}

// moves says what a quarter less and a quarter more would cost.
func moves(r *Result) []string {
	var list []string
	for _, m := range []struct {
		name string
		to   float64
	}{{"A quarter less", r.Recommendation.Down}, {"A quarter more", r.Recommendation.Up}} {
		if to := r.at(m.to); to != nil {
			list = append(list, move(r, m.name, to))
		}
	}
	return list
}

// move says what going from the chosen rung to another would cost.
func move(r *Result, name string, to *Rung) string {
	text := fmt.Sprintf("%s, %s", name, amperes(to.Quiescent))
	if to.Refusal != "" {
		return text + ": " + to.Refusal + "."
	}
	var parts []string
	from := r.Chosen
	if a, ok := from.Worst(); ok {
		if b, ok := to.Worst(); ok {
			parts = append(parts, fmt.Sprintf("noticed %s instead of %s cold", chance(b.Detection), chance(a.Detection)))
		}
	}
	if from.Use != nil && to.Use != nil {
		parts = append(parts, fmt.Sprintf("%s instead of %s in use", chance(to.Use.Own.Heard.Detection), chance(from.Use.Own.Heard.Detection)))
	}
	for i, tone := range to.Tones {
		parts = append(parts, fmt.Sprintf("THD %s instead of %s at %s", format.Percent(tone.THD, 3), format.Percent(from.Tones[i].THD, 3), format.DB(tone.Level)))
	}
	parts = append(parts, fmt.Sprintf("%s instead of %s at rest", format.Quantity(to.Rest.Supply, "W"), format.Quantity(from.Rest.Supply, "W")),
		fmt.Sprintf("a loop gain of %s instead of %s", format.Fixed(to.Idle.Stability(), 2), format.Fixed(from.Idle.Stability(), 2)))
	text += ": " + strings.Join(parts, ", ")
	if len(to.Breaks) > 0 {
		text += "; it breaks the limit of " + bindings(to.Breaks)
	}
	if !to.clear(r.bars()) {
		text += "; it does not meet the limit of audibility with its margin"
	}
	return text + "."
}

func bindings(list []Binding) string {
	var names []string
	for _, b := range list {
		names = append(names, string(b))
	}
	return strings.Join(names, " and of ")
}

// places says how the textbook's and the numerically best current lie, and the file's.
func places(r *Result) []string {
	list := []string{optimum(r), best(r)}
	if text := built(r); text != "" {
		list = append(list, text)
	}
	for _, edge := range r.Edges {
		at := "at this current"
		if !r.Recommendation.Met {
			at = "at what hearing asks for"
		}
		list = append(list, "A limit that is broken "+at+", whatever the bias: "+edge+".")
	}
	return slices.DeleteFunc(list, func(s string) bool { return s == "" })
}

// optimum says what the textbook's optimum counts.
func optimum(r *Result) string {
	rec := &r.Recommendation
	if rec.Optimum == 0 {
		return "No optimum-bias condition is known for this circuit with these parts."
	}
	var in, out []string
	for _, c := range rec.Counted {
		text := fmt.Sprintf("%s %s", format.Quantity(c.Ohms, "Ω"), c.Name)
		switch {
		case c.Ohms == 0:
		case c.Counted:
			in = append(in, text)
		default:
			out = append(out, text)
		}
	}
	text := "The textbook's optimum is " + amperes(rec.Optimum)
	if len(in) > 0 {
		text += ": kT/q, times the emission coefficient, over " + strings.Join(in, " and ")
	}
	if len(out) > 0 {
		text += "; it does not count " + strings.Join(out, " and ")
	}
	if rec.Balance > 0 {
		text += fmt.Sprintf(". By the stage as solved the gain at rest equals that at full swing at %s", amperes(rec.Balance))
	}
	return text + "."
}

// best says where the numerically best current lies.
func best(r *Result) string {
	rec := &r.Recommendation
	at := r.at(rec.Best)
	if at == nil || at.Refusal != "" {
		return ""
	}
	return fmt.Sprintf("Numerically best, by the mean of the THD at all levels and frequencies, is %s: %s.", amperes(rec.Best), format.Percent(at.Distortion, 3))
}

// built says where the stage file as given lies.
func built(r *Result) string {
	rec := &r.Recommendation
	if rec.Built == nil {
		return ""
	}
	q := rec.Built.Quiescent
	text := "The stage file as given has " + amperes(q)
	if w := rec.Built.Warm; w != nil {
		text += ", " + amperes(*w) + " warm at rest"
	} else {
		text += " cold and does not settle within its limits at rest"
	}
	low := rec.Minimum
	switch {
	case !rec.MinimumKnown:
		return text + ": predicted audible, as every current is."
	case q < low:
		text += fmt.Sprintf(": under what is not heard, %s", amperes(low))
	case q > rec.Maximum:
		text += fmt.Sprintf(": over what heat allows, %s", amperes(rec.Maximum))
	case !rec.MarginKnown:
		text += ": not predicted audible, but no current has the prediction's margin"
	case q < rec.Margin:
		text += fmt.Sprintf(": not predicted audible, but under %s, where that holds with its margin", amperes(rec.Margin))
	case !quietCold(r, q):
		text += ": there what is heard has risen again to where the prediction's margin is not kept"
	case driftsOut(r, q):
		text += ": cold it meets all limits, and in use it drifts to where the prediction's margin is not kept"
	default:
		text += ": it meets all limits"
	}
	if rec.Met {
		text += fmt.Sprintf("; %s of the current to set", format.Percent(q/rec.Set, 3))
	}
	return text + "."
}

// quietCold tells that a current, if it is in the table, meets the limit of audibility with
// its margin cold.
func quietCold(r *Result, quiescent float64) bool {
	g := r.at(quiescent)
	return g == nil || len(g.Heard) == 0 || g.quiet(r.bars().under)
}

// driftsOut tells that a current in the table does not meet that limit in use.
func driftsOut(r *Result, quiescent float64) bool {
	g := r.at(quiescent)
	return g != nil && g.Use != nil && !g.Use.meets(r.bars())
}

// chance writes a probability.
func chance(p float64) string {
	if p < 1e-4 {
		return "under 0.01\u00a0%"
	}
	return format.Percent(p, 2)
}

func noAnswer(r *Result) string {
	rec := &r.Recommendation
	var names []string
	for _, b := range rec.Binds {
		names = append(names, string(b))
	}
	hearing := fmt.Sprintf("a difference is predicted audible at every current, on %s", rec.MinimumBy)
	switch {
	case rec.MinimumKnown && !rec.MarginKnown:
		hearing = fmt.Sprintf("from %s on no difference is predicted audible, but at no current with the prediction's margin (%s)", amperes(rec.Minimum), rec.MarginBy)
	case slices.Contains(rec.Binds, BindsUse):
		hearing = fmt.Sprintf("cold, no difference is predicted audible with its margin from %s on, but the stage drifts in use to where one is: %s", amperes(rec.Margin), drifts(r))
	case rec.MarginKnown && rec.Margin == 0:
		hearing = "hearing asks for none"
	case rec.MarginKnown:
		hearing = fmt.Sprintf("hearing asks for at least %s with its margin%s, %s without", amperes(rec.Margin), by(rec.MarginBy), amperes(rec.Minimum))
	}
	var heat []string
	for _, l := range rec.Ceilings {
		if !slices.Contains(rec.Binds, l.Limit) {
			continue
		}
		if l.Maximum == 0 {
			heat = append(heat, fmt.Sprintf("%s allows none", l.Limit))
		} else {
			heat = append(heat, fmt.Sprintf("%s allows at most %s", l.Limit, amperes(l.Maximum)))
		}
	}
	return fmt.Sprintf("No quiescent current meets all limits: %s. What binds: %s.", strings.Join(append([]string{hearing}, heat...), "; "), strings.Join(names, " and "))
}

// drifts says where the currents that are quiet cold go in use.
func drifts(r *Result) string {
	easy := r.bars().under
	var list []string
	for i := range r.Rungs {
		if g := &r.Rungs[i]; g.Quiescent >= r.Recommendation.Margin && g.Quiescent <= r.Recommendation.Maximum && g.quiet(easy) && g.Use != nil {
			u := &g.Use.Any
			list = append(list, fmt.Sprintf("%s to between %s and %s (%s)", amperes(g.Quiescent), amperes(u.Low), amperes(u.High), chance(u.Heard.Detection)))
		}
	}
	return strings.Join(list, ", ")
}

// remedy says what a change does.
func remedy(m *Remedy) []string {
	return []string{m.Key, bindings(m.For), value(m.From, m.Unit), value(m.To, m.Unit), amperes(m.Quiescent), worked(m), m.Note}
}

func value(v float64, unit string) string {
	switch {
	case unit == "" && v == 0:
		return "–"
	case unit == "":
		return format.Number(v, 3)
	case unit == "K/W":
		return format.Number(v, 3) + "\u00a0K/W"
	case unit == "K":
		return celsius(v)
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
