package distortion

import (
	"math"
	"slices"
	"testing"
)

// A tone stepping down by 6 dB, silence between, is found with its levels.
func TestSteps(t *testing.T) {
	const rate, rungs = 48000, 6
	var x []float64
	for k := range rungs {
		sound := tone(rate*3/4+123, rate, 397, 0.5*math.Pow(2, -float64(k)))
		x = slices.Concat(x, sound, make([]float64, rate/4))
	}
	steps := Steps(x, rate)
	if len(steps) != rungs {
		t.Fatalf("%d steps, want %d: %v", len(steps), rungs, steps)
	}
	for k, s := range steps {
		if want := 0.5 * math.Pow(2, -float64(k)) / math.Sqrt2; math.Abs(s.RMS/want-1) > 1e-2 {
			t.Errorf("step %d: %v RMS, want %v", k, s.RMS, want)
		}
		if s.To-s.From < rate/2 {
			t.Errorf("step %d has only %d samples", k, s.To-s.From)
		}
	}
	s, err := Detect(x, rate)
	if err != nil || s.Kind != Ladder || math.Abs(s.Tones[0]-397) > 0.1 {
		t.Errorf("detected %v %v (%v), want a ladder of 397 Hz", s.Kind, s.Tones, err)
	}
	// Levels alone make no ladder: the tones must agree.
	mixed := slices.Concat(tone(rate, rate, 400, 0.5), tone(rate, rate, 600, 0.2), tone(rate, rate, 900, 0.1))
	if s, err := Detect(mixed, rate); err != nil || s.Kind != Programme {
		t.Errorf("three different tones detected as %v (%v)", s.Kind, err)
	}
	if got := Steps(make([]float64, rate), rate); len(got) != 0 {
		t.Errorf("silence has steps: %v", got)
	}
}
