package server

import (
	"fmt"
	"strings"
)

// Methods is a paragraph on how the listeners of a material were tested, as a paper
// states it, made from the settings and from what was done.
func (m *MaterialResult) Methods() string {
	if len(m.Listeners) == 0 {
		return ""
	}
	set, kept := m.Listeners[0].Session.Settings, 0
	for _, l := range m.Listeners {
		if l.Kept {
			kept++
		}
		if l.Session.Settings != set {
			return "The sessions on this material were not all run alike; the table of listeners tells how each was."
		}
	}
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format+" ", args...) }
	add("%d %s took part, of whom %d %s kept.", len(m.Listeners), plural(len(m.Listeners), "session", "sessions"), kept, plural(kept, "was", "were"))
	add("The stimuli were %s through the output stage of the set (stimulus %s) and through an ideal linear stage, aligned in time and matched in loudness, played at one gain of %s for all materials, with triangular dither of its own on each clip.", m.Material, m.Stimulus, decibels(float64(m.Listeners[0].Session.Gain)))
	b.WriteString(m.levelMethods())
	b.WriteString(set.methods())
	if set.Listen > 0 {
		add("Every interval had to be heard for %s s, and listeners switched between them at will, in synchrony.", fixed(1, set.Listen))
	}
	if set.BreakEvery > 0 && set.Break > 0 {
		add("After every %d a break of %s s without sound was enforced.", set.BreakEvery, fixed(0, set.Break))
	}
	add("The order within each trial was drawn from the system's cryptographic randomness and kept on the server until the answer was final.")
	return strings.TrimSpace(b.String())
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// levelMethods says how loud it was.
func (m *MaterialResult) levelMethods() string {
	if m.Playback == nil {
		return "The level at the ear is not known. "
	}
	measured, voices := 0, 0
	for _, l := range m.Listeners {
		switch {
		case !l.Kept:
		case l.Session.Matched == "meter":
			measured++
		case l.Session.Matched == "voice":
			voices++
		}
	}
	return fmt.Sprintf("The level was set by noise from 500 Hz to 2 kHz as loud as the loudest material; it was measured by %d and matched by ear to a voice by %d; the median level of a full-scale sine was %s dB SPL. ", measured, voices, fixed(0, float64(*m.Playback)))
}

// methods says how a session went.
func (s Settings) methods() string {
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format+" ", args...) }
	switch s.Method {
	case Adaptive:
		add("Each trial was an odd-one-out among three intervals. The residual was placed where the answer was expected to tell most about the threshold (Bayesian, logistic, guess rate 1/3); a session had %d test trials at least and ended when the 95 %% interval of the threshold was no wider than %s dB, after %d at most.", s.Trials, fixed(1, s.Width), max(s.Trials, s.Most))
	case Staircase:
		add("Each trial was an odd-one-out among three intervals. The residual followed a transformed up-down rule, %d down and one up (Levitt 1971), in steps of %s dB, to %d reversals or %d trials.", s.Down, fixed(1, s.Step), s.Reversals, s.Trials)
	case Triangle:
		_, power := s.Plan()
		add("Each of %d trials was an odd-one-out among three intervals at a quiescent current of %s; the test of size %g finds a listener who truly hears %s of the trials with probability %s.", s.Trials, current(s.Quiescent), s.Alpha, percentText(s.Share), fixed(2, power))
	case Graded:
		add("Grades were given by the double-blind triple-stimulus method with hidden reference of ITU-R BS.1116-3: in each trial the open reference and two further intervals, one of which was the hidden reference and the other one of %d renderings (the largest difference of the set, and three smaller ones); both were graded on the five-grade impairment scale in steps of 0.1, one of them 5.0. Each rendering came once in each of %d rounds. Difference grades are the rendering's less the hidden reference's of the same trial.", len(gradedItems), s.Trials)
		add("A listener was kept whose difference grades lie below zero: a one-sided t test and an exact permutation test over all trials, both of size %g.", s.Screening)
		return b.String()
	case Multi:
		add("In each of %d rounds the open reference, a hidden reference, two renderings and two anchors (the largest difference of the set, and one at three quarters of the range) were graded on the five-grade impairment scale of ITU-R BS.1116-3 in steps of 0.1, all at hand at once as in BS.1534-3.", s.Trials)
		add("A listener was kept who told the hidden reference from the low anchor: a one-sided t test and an exact permutation test, both of size %g.", s.Screening)
		return b.String()
	}
	if s.CatchEvery > 0 {
		add("Among every %d test trials one catch trial stood, in turn the largest difference there was and none; a listener who missed more than %d of the largest was left out.", s.CatchEvery, s.MissedLarge)
	}
	return b.String()
}

func percentText(x float64) string { return fixed(0, 100*x) + " %" }
