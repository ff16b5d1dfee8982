package engine

import (
	"math"
	"slices"
	"testing"
)

// noted is a scope that has seen a ramp of so many frames, of which frame i holds i.
func noted(frames int) *Scope {
	s := NewScope()
	for from := 0; from < frames; from += 256 {
		s.Note(ramped(from))
	}
	return s
}

func ramped(from int) Passed {
	x := make([]float64, 256)
	for i := range x {
		x[i] = float64(from + i)
	}
	return Passed{From: int64(from), Rate: 48000, Reach: 1e6, Reference: [][]float64{x}, Out: x}
}

// TestScopeKeepsStep: a look shows the same frames whether the scope has meanwhile seen
// more than the player told of, or less.
func TestScopeKeepsStep(t *testing.T) {
	for _, seen := range []int{20480, 25600, 30720} {
		v := noted(seen).View(Told{Through: 25600, Rate: 48000, Drive: 1, Fitted: 1}, 5120, 0.01, false, nil)
		if want := 25600.0 - 5120 - 1; v.Input != want {
			t.Errorf("%d frames seen: the last one heard is %g, want %g", seen, v.Input, want)
		}
		if v.Residual != 0 || v.Peak != v.Input {
			t.Errorf("%d frames seen: residual %g, peak %g", seen, v.Residual, v.Peak)
		}
	}
	// What is not there yet is not made up: the newest that is there is shown.
	if v := noted(20480).View(Told{Through: 25600, Rate: 48000, Drive: 1}, 0, 0.01, false, nil); v.Input != 20479 {
		t.Errorf("the newest frame is %g", v.Input)
	}
}

// TestScopeSeesAgain: of what is played again the later is shown.
func TestScopeSeesAgain(t *testing.T) {
	s := noted(25600)
	again := ramped(25600 - 512)
	for i := range again.Out {
		again.Reference[0][i] = -1
	}
	s.Note(again)
	if x := s.last(s.in, 512, 0); x[255] != 25600-512-1 || x[256] != -1 || x[511] != -1 {
		t.Errorf("%g, then %g to %g", x[255], x[256], x[511])
	}
}

// TestScopeForgets: a gap in the blocks, another rate, and a scope that has seen nothing.
func TestScopeForgets(t *testing.T) {
	s := noted(25600)
	s.Note(ramped(26624))
	if x := s.last(s.in, 512, 0); x[255] != 0 || x[256] != 26624 {
		t.Errorf("across a gap: %g, then %g", x[255], x[256])
	}
	for _, s := range []*Scope{NewScope(), noted(25600)} {
		v := s.View(Told{Through: 44100, Rate: 44100, Drive: 1, Fitted: 1}, 0, 0.01, true, nil)
		if v.Peak != 0 || len(v.Trace.In) != 441 || math.Abs(slices.Max(v.Spectra.Output)-10*math.Log10(minimumLine)) > 1e-9 {
			t.Errorf("peak %g, %d points in a trace, at most %g dB of nothing", v.Peak, len(v.Trace.In), slices.Max(v.Spectra.Output))
		}
	}
}
