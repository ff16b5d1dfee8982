package network

import (
	"math"
	"math/cmplx"
	"testing"
)

// TestMotionsThatDieAway holds the criterion to the corrected rule itself, run on y' = s y
// from a kick: what it calls stable has died down, and what it does not has grown.
func TestMotionsThatDieAway(t *testing.T) {
	for _, z := range []complex128{
		-1e-3, -0.1, -1, -4.5, -30, -1e4, -0.1 + 0.1i, -0.3 + 1i, -1 + 3i, -5 + 10i, -0.01 + 0.03i,
		-0.01 + 1.7i, 1i, -0.1 + 2i, 0.05, 0.1i,
	} {
		y := [remembered]complex128{1}
		var size float64
		for range 20000 {
			next := (1 + z/2) * y[0]
			for i, b := range bend {
				next += complex(b, 0) * y[i]
			}
			next /= 1 - z/2
			copy(y[1:], y[:])
			y[0] = next
			if size = cmplx.Abs(next); size > 1e6 {
				break
			}
		}
		if want := size < 1; diesAway(z) != want {
			t.Errorf("%v a step: called stable: %v, and from 1 it goes to %g", z, diesAway(z), size)
		}
	}
}

// TestSharpenedRuleIsCloser drives a series resonance with a tone near its peak and
// compares the capacitor's voltage with its phasor, 1/(1 - w^2 LC + jwRC) (a divider of
// impedances), at
// 125 steps a cycle.
func TestSharpenedRuleIsCloser(t *testing.T) {
	const ohms, henries, farads, hertz = 10.0, 1e-3, 1e-6, 4000.0
	const step, count = 1 / (hertz * 125), 125 * 60
	w := 2 * math.Pi * hertz
	response := 1 / complex(1-w*w*henries*farads, w*ohms*farads)
	worst := func(sharp bool) float64 {
		s, in, out := resonance(ohms, henries, farads)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		tr := s.Transient(step)
		if motions, _ := tr.Motions(); sharp && !tr.Sharpen(motions) {
			t.Fatal("the resonance would grow")
		}
		signal, worst := sine(1, hertz), 0.0
		for i := range count {
			tr.Set(in, signal(float64(i+1)*step))
			if err := tr.Step(); err != nil {
				t.Fatal(err)
			}
			if i > count-125 {
				want := imag(response * cmplx.Exp(complex(0, w*float64(i+1)*step)))
				worst = max(worst, math.Abs(tr.Solver().Voltage(out)-want))
			}
		}
		return worst
	}
	plain, sharp := worst(false), worst(true)
	t.Logf("error %.2g plain, %.2g corrected", plain, sharp)
	if !(plain > 1e-4) || !(sharp < plain/10) {
		t.Errorf("error %.2g plain, %.2g corrected; want a tenth", plain, sharp)
	}
}
