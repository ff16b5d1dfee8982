package report

import (
	"strings"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
)

// The rungs need not stand in the order of their currents.
func TestHeadline(t *testing.T) {
	r := &Report{Heard: hearing.DefaultConditions()}
	for _, rung := range []bias.Rung{{Quiescent: 1e-3}, {Quiescent: 0}, {Quiescent: 0.1}, {Quiescent: 0.01}} {
		r.Rungs = append(r.Rungs, Rung{Rung: rung})
	}
	for k, label := range []string{"1 mA", "0 V", "100 mA", "10 mA"} {
		r.Rungs[k].Label = label
	}
	for _, c := range []struct {
		probabilities []float64 // in the order of the rungs, -1 for none
		want, from    string
	}{
		{[]float64{0.9, 1, 0, 0.2}, "Predicted audible up to 1 mA, not predicted audible from 10 mA on (92 dB SPL).", "10 mA"},
		{[]float64{0.9, -1, 0, 0.6}, "Predicted audible up to 10 mA, not predicted audible from 100 mA on (92 dB SPL).", "100 mA"},
		{[]float64{0.9, 1, 0.6, 0.2}, "Predicted audible at 0 V, 1 mA and 100 mA, not predicted audible at 10 mA (92 dB SPL).", "more than one range"},
		{[]float64{0, 0, 0, 0.5}, "Not predicted audible at 0 V, 1 mA, 10 mA and 100 mA (92 dB SPL).", "0 V"},
		{[]float64{1, -1, -1, -1}, "Predicted audible at 1 mA (92 dB SPL).", "none of these"},
		{[]float64{-1, -1, -1, -1}, "", "–"},
	} {
		item := &Item{Renderings: make([]Rendering, 4)}
		for k, p := range c.probabilities {
			if p >= 0 {
				item.Renderings[k].Detection = &Detection{Probability: p}
			}
		}
		if got := strings.ReplaceAll(headline(r, item), "\u00a0", " "); got != c.want {
			t.Errorf("%v:\n%s\nwant\n%s", c.probabilities, got, c.want)
		}
		if got := clearFrom(r, item); got != c.from {
			t.Errorf("%v: from %q, want %q", c.probabilities, got, c.from)
		}
	}
}
