package distortion

import (
	"slices"
	"testing"
)

// A tone between silences, with a click and a fade, is cut down to the tone.
func TestSteadyPart(t *testing.T) {
	const rate = 48000
	sound := tone(2*rate, rate, 1000, 0.5)
	for i := range rate / 10 {
		sound[i] *= float64(i) / (rate / 10)
	}
	x := slices.Concat(make([]float64, rate/2), sound, make([]float64, rate))
	x[10000] = 0.9
	from, to := SteadyPart(x, rate)
	if from < rate/2+rate/10 || from > rate/2+3*rate/10 || to > rate/2+2*rate || to < rate/2+2*rate-rate/5 {
		t.Errorf("steady from %d to %d", from, to)
	}
	if m, err := Harmonics(x[from:to], rate); err != nil || m.THDN().Level() > -180 {
		t.Errorf("the steady part of a clean tone: %v (%v)", m, err)
	}
	if from, to := SteadyPart(tone(rate, rate, 440, 0.1), rate); from != rate/10 || to != rate-rate/10 {
		t.Errorf("a tone without silence is cut to %d:%d, want a block off each end", from, to)
	}
	for name, whole := range map[string][]float64{
		"short": tone(1000, rate, 440, 0.1), "silence": make([]float64, rate/2),
	} {
		if from, to := SteadyPart(whole, rate); from != 0 || to != len(whole) {
			t.Errorf("%s: cut to %d:%d of %d", name, from, to, len(whole))
		}
	}
}
