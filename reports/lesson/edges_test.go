package lesson

import (
	"errors"
	"math"
	"strings"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/live/engine"
	"quietcross/stage"
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
		{ohms(0.91), "0.91\u00a0Ω"},
		{ohms(1.5), "1.5\u00a0Ω"},
		{ohms(12345), "12.3\u00a0kΩ"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// threadOf is a lesson's thread on a pair with some ohms at each emitter, before
// anything is biased or heard.
func threadOf(t *testing.T, ohms float64) *thread {
	t.Helper()
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	spec.Emitter.Ohms, spec.Upper.EmitterOhms, spec.Lower.EmitterOhms = ohms, 0, 0
	s := &stand{ctx: t.Context(), heard: hearing.DefaultConditions(), subjects: map[string]*subject{}}
	subject, err := s.put(spec)
	if err != nil {
		t.Fatal(err)
	}
	return &thread{subject: subject}
}

// An over-bias is of five times the optimum, or of as many whole times as leave a tenth of
// what a source gives, and a lesson needs twice at least.
func TestEdgesOfOverBias(t *testing.T) {
	usual := threadOf(t, 0.22)
	if err := usual.bias(); err != nil || math.Abs(usual.over.evaluation.Quiescent/usual.optimum-5) > 0.05 {
		t.Errorf("%v: %g A, the optimum is %g A", err, usual.over.evaluation.Quiescent, usual.optimum)
	}
	times := func(th *thread) float64 {
		optimum, err := th.stage.Optimum()
		if err != nil {
			t.Fatal(err)
		}
		_, most, err := th.stage.HeldRange()
		if err != nil {
			t.Fatal(err)
		}
		return 0.9 * most / optimum
	}
	for _, ohms := range []float64{4.5e-3, 2.8e-3, 1.8e-3} {
		th := threadOf(t, ohms)
		err := th.bias()
		switch most := times(th); {
		case most < 2:
			if !errors.Is(err, ErrUnfit) {
				t.Errorf("%g times is fit: %v", most, err)
			}
		case err != nil || th.times != math.Floor(most):
			t.Errorf("%g times: %v, takes %g", most, err, th.times)
		}
	}
}

// Peaks of quiet music reach to 2.5 times half of the dead zone, in whole decibels, and are
// at least 2 dB under those of loud music.
func TestEdgesOfQuietMusic(t *testing.T) {
	th := threadOf(t, 0.22)
	th.none, th.cured = &state{subject: th.subject, evaluation: &bias.Evaluation{}}, &state{subject: th.subject, evaluation: &bias.Evaluation{}} // which clips at once
	for _, c := range []struct {
		under level.DB // of 2.5 half zones, under the peak of loud music
		says  string
	}{{20.5, "clips"}, {2.1, "clips"}, {1.9, "hardly any music"}} {
		half := th.volts(-c.under) / 2.5
		th.none.evaluation.DeadZone = 2 * half
		if err := th.listen(); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%g dB under: %v", float64(c.under), err)
		}
		if reach := th.volts(th.quiet) / half; reach < 2.5 || reach > 2.5*1.123 {
			t.Errorf("quiet music reaches to %g half zones", reach)
		}
	}
}

// More than a fifth more distortion is a rise, and more than two trials in a hundred a
// difference; of several the largest is told.
func TestEdgesOfComparisons(t *testing.T) {
	for risen, want := range map[float64]string{1.19: "At no level", 1.21: "can rise again"} {
		var p prose
		if p.again(risen, "at full drive"); !strings.Contains(p.String(), want) {
			t.Errorf("%g: %q", risen, p.String())
		}
	}
	var p parting
	if p.look("a", 0.519, 0.5); p.words != "" {
		t.Errorf("1.9 trials in a hundred: %q", p.words)
	}
	p.look("b", 0.521, 0.5)
	p.look("c", 0.52, 0.5)
	if !strings.Contains(p.words, "at b ") {
		t.Errorf("%q", p.words)
	}
}
