package lesson

import (
	"testing"

	"quietcross/dsp/level"
	"quietcross/reports/live/engine"
)

// The words change where the predicted share does: nine in ten are heard, from one half on
// often, from one in ten on seldom; nothing is called certain.
func TestWordsOfDetection(t *testing.T) {
	for detection, want := range map[float64]string{
		0.91: "predicted: heard (91\u00a0%)", 0.89: "predicted: often heard (89\u00a0%)",
		0.51: "predicted: often heard (51\u00a0%)", 0.49: "predicted: seldom heard (49\u00a0%)",
		0.11: "predicted: seldom heard (11\u00a0%)", 0.09: "predicted: not heard (9\u00a0%)",
		0.0049: "predicted: not heard (under 1\u00a0%)", 0.0051: "predicted: not heard (1\u00a0%)",
		0.9949: "predicted: heard (99\u00a0%)", 0.9951: "predicted: heard (over 99\u00a0%)",
	} {
		if got := predicted(detection); got != want {
			t.Errorf("%g: %q, want %q", detection, got, want)
		}
	}
	for _, c := range []struct {
		detection          float64
		peak               level.DB
		audible, inaudible bool
		says               string
	}{
		{0.91, -44.9, true, false, "predicted: heard (91\u00a0%)"},
		{0.89, -44.9, false, false, "predicted: often heard (89\u00a0%)"},
		{0.91, -45.1, false, false, "next to silence comes out"},
		{0.11, -20, false, false, "predicted: seldom heard (11\u00a0%)"},
		{0.09, -20, false, true, "predicted: not heard (9\u00a0%)"},
	} {
		s := &sound{monitor: engine.Output, verdict: &engine.Verdict{Detection: c.detection, Peak: c.peak}}
		if s.audible() != c.audible || s.inaudible() != c.inaudible || s.says() != c.says {
			t.Errorf("%+v: audible %v, inaudible %v, %q", c, s.audible(), s.inaudible(), s.says())
		}
	}
}

// Quantities that are next to nothing are written as that, and small resistors in ohms, as
// on a drawing.
func TestQuantitiesOfTheText(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{percent(0.9e-6), "under 0.0001\u00a0%"},
		{percent(1.1e-6), "0.00011\u00a0%"},
		{watts(0.9e-3), "under 1\u00a0mW"},
		{watts(1.1e-3), "1.1\u00a0mW"},
		{current(0.9e-6), "none"},
		{current(1.1e-6), "1.1\u00a0µA"},
		{ohms(0.22), "0.22\u00a0Ω"},
		{ohms(0.011), "0.011\u00a0Ω"},
		{ohms(0.0099), "9.9\u00a0mΩ"},
		{ohms(1.5), "1.5\u00a0Ω"},
		{ohms(12345), "12.3\u00a0kΩ"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}
