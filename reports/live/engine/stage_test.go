package engine

import (
	"math"
	"strings"
	"testing"
)

// TestSetStage: after another stage was taken over, what plays is that stage's.
func TestSetStage(t *testing.T) {
	audio := music(48000, 0.5)
	first, sheet := solve(t, "pair-12w", "bias", 0, 0, true)
	second, other := solve(t, "pair-1w", "as-built", 0, 0, true)
	p, err := NewPlayer(audio, 48000, first.Law, sheet.Drive, Controls{Monitor: Output})
	must(t, err)
	got := play(p, 20000, func(at int) {
		if at == 2048 {
			p.SetStage(second.Law, other.Drive)
		}
	})
	want := record(t, audio, second, other.Drive, Controls{Monitor: Output})
	late := p.Latency()
	for held := range 2048 { // frames that the source stood still while the gate was down
		worst := 0.0
		for at := 8000; at < 12000 && worst < 1e-6; at++ {
			worst = math.Abs(float64(got[0][at+late] - want[0][at-held]))
		}
		if worst < 1e-6 {
			t.Logf("the source stood still for %d frames", held)
			return
		}
	}
	t.Error("what plays is not the other stage's")
}

// TestFileAndTone: the file of a request holds its load, and a tone has more distortion
// unbiased than as built; a sketch has no tone.
func TestFileAndTone(t *testing.T) {
	s := &Solver{}
	sheet, err := s.Describe("pair-12w")
	must(t, err)
	file, err := s.File(Request{File: sheet.File, Load: 5.5, Ambient: 40})
	must(t, err)
	if again, err := s.Describe(file); err != nil || again.Load != 5.5 || math.Abs(again.Ambient-40) > 1e-9 || !strings.Contains(file, "5.5ohm") {
		t.Errorf("%v: load or temperature is not in the file", err)
	}
	bare, _ := solve(t, "pair-12w", "bias", 0, 0, false)
	built, _ := solve(t, "pair-12w", "as-built", 0, 0, false)
	worse, err := bare.Tone(1000, 2)
	must(t, err)
	better, err := built.Tone(1000, 2)
	must(t, err)
	if worse.THD < 10*better.THD {
		t.Errorf("THD %g unbiased, %g as built", worse.THD, better.THD)
	}
	quick, _ := solve(t, "pair-12w", "bias", 0, 0, true)
	if _, err := quick.Tone(1000, 2); err == nil {
		t.Error("a sketch has a tone")
	}
}
