package server

import (
	_ "embed"
	"fmt"
	"io"
	"math"
	"strings"

	"quietcross/reports/panel/statistics"
)

//go:embed web/result.css
var resultStyle string

// WriteHTML writes the results as one page that needs no other file and prints
// on two sheets of A4: the panel and its conditions, then the listeners. More
// than two materials, or than forty listeners, need further sheets.
func (r *Results) WriteHTML(w io.Writer) error {
	if err := templates.ExecuteTemplate(w, "result.html", r); err != nil {
		return fmt.Errorf("panel: result page: %w", err)
	}
	return nil
}

// Pages are the materials as the page takes them.
func (r *Results) Pages() []*MaterialResult {
	out := make([]*MaterialResult, len(r.Materials))
	for i := range out {
		out[i] = &r.Materials[i]
	}
	return out
}

// Playback says how a listener took the test: method, device, level, rate.
func (l ListenerResult) Playback() string {
	v := l.Session
	parts := []string{fmt.Sprintf("%s, %d %s", v.Settings.Method, v.Settings.Trials, v.Settings.unit())}
	if v.Device != "" {
		parts = append(parts, v.Device)
	}
	if v.Room != "" {
		parts = append(parts, v.Room)
	}
	switch {
	case v.SPL == nil:
		parts = append(parts, "level not known")
	case v.Matched == "voice":
		parts = append(parts, fixed(0, *v.SPL)+" dB(A) by comparison with a voice")
	default:
		parts = append(parts, fixed(0, *v.SPL)+" dB(A)")
	}
	if v.Resampled() {
		parts = append(parts, "resampled")
	}
	return strings.Join(parts, ", ")
}

// unit is what Trials counts.
func (s Settings) unit() string {
	switch s.Method {
	case Graded, Multi:
		return "rounds"
	case Staircase:
		return "trials at most"
	}
	return "trials"
}

// Triple reports whether the grades are those of triple-stimulus sessions.
func (m *MaterialResult) Triple() bool {
	for _, l := range m.Listeners {
		if l.Kept && l.Session.Settings.Graded() {
			return l.Session.Settings.Method == Graded
		}
	}
	return false
}

func counted(n int, thing string) string { return fmt.Sprintf("%d %s", n, plural(n, thing, thing+"s")) }

// Common is the playback of all listeners, empty when they differ.
func (m *MaterialResult) Common() string {
	common := m.Listeners[0].Playback()
	for _, l := range m.Listeners[1:] {
		if l.Playback() != common {
			return ""
		}
	}
	return common
}

// Remarks are what a listener's numbers do not show.
func (l ListenerResult) Remarks() string {
	var parts []string
	switch {
	case l.Session.Settings.Graded():
		parts = append(parts, fmt.Sprintf("mean difference grade %s (%s), t %s, exact p %s", fixed(2, l.Screening.Mean), counted(l.Screening.N, l.Session.Settings.screened()), fixed(2, l.Screening.T), chance(l.Screening.Exact)))
	case l.Session.Settings.Method == Triangle && l.Verdict.Count.Trials > 0:
		d := func(right float64) string { return fixed(1, statistics.TriangleSensitivity(right)) }
		i := l.Verdict.Interval
		parts = append(parts, l.Why, fmt.Sprintf("d′ %s (%s to %s)", d(l.Verdict.Count.Proportion()), d(i.Lo), d(i.Hi)))
	case l.Why != "":
		parts = append(parts, l.Why)
	case l.Fit != nil:
		parts = append(parts, fmt.Sprintf("ML %s (%s to %s)", fixed(1, l.Fit.Location), fixed(1, l.Profile.Lo), fixed(1, l.Profile.Hi)))
		if l.FitP < 0.05 {
			parts = append(parts, fmt.Sprintf("the curve fits badly (p %s)", fixed(2, l.FitP)))
		}
	}
	if !math.IsNaN(l.Track) {
		parts = append(parts, fmt.Sprintf("track %s at %.0f %%", decibels(l.Track), 100*l.Target))
	}
	if l.CutShort > 0 {
		parts = append(parts, fmt.Sprintf("%s cut short by the ends of the set", counted(l.CutShort, "step")))
	}
	if l.Floor != nil && l.Established && l.Threshold.Mean < l.Floor.Residual {
		parts = append(parts, fmt.Sprintf("under the floor of %s (%s)", decibels(l.Floor.Residual), l.Floor.Why))
	}
	if l.LeftOut != "" {
		parts = append(parts, "left out: "+l.LeftOut)
	}
	return strings.Join(parts, "; ")
}
