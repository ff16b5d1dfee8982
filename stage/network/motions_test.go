package network

import (
	"math"
	"math/cmplx"
	"testing"
)

// resonance builds a series resonance from the source in to the node out.
func resonance(ohms, henries, farads float64) (s *Solver, in Source, out Node) {
	c := New()
	input, in := c.Drive("in", 0)
	middle, out := c.Node("middle"), c.Node("out")
	c.Add(Resistor{input, middle, ohms}, Inductor{A: middle, B: out, Henries: henries}, Capacitor{A: out, Farads: farads})
	return c.Compile(), in, out
}

// growth solves a circuit and returns its fastest motion there.
func growth(t *testing.T, s *Solver) Growth {
	t.Helper()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	motions, ok := s.Transient(1e-6).Motions()
	if !ok {
		t.Fatal("no motions")
	}
	return Fastest(motions)
}

// TestGrowthOfResonance checks a series resonance against the roots of s^2 LC + s RC + 1:
// rate -R/(2L), swinging at sqrt(1/LC - (R/2L)^2).
func TestGrowthOfResonance(t *testing.T) {
	const ohms, henries, farads = 10.0, 1e-3, 1e-7
	s, _, _ := resonance(ohms, henries, farads)
	g := growth(t, s)
	rate := -ohms / (2 * henries)
	within(t, "rate", g.Rate, rate, 1e-6*math.Abs(rate))
	hertz := math.Sqrt(1/(henries*farads)-rate*rate) / (2 * math.Pi)
	within(t, "frequency", g.Hertz, hertz, 1e-6*hertz)
}

// TestGrowthOfLoop checks a feedback amplifier with two more poles against the
// limit of the three-pole loop: three equal poles stand a loop gain of 8 (from the
// phase of 60 degrees each at sqrt 3 times the pole, where each halves the gain).
func TestGrowthOfLoop(t *testing.T) {
	rate := func(loop float64) float64 {
		const pole = 1e4 // Hz
		c := New()
		nodes := []Node{c.Node("p"), c.Node("q"), c.Node("r")}
		for i, gain := range []float64{loop / 4, 2, 2} {
			// Each stage inverts the one before it, the first the last.
			out := c.Node([]string{"a", "b", "c"}[i])
			c.Add(
				Amplifier{Minus: nodes[(i+2)%3], Out: out, Gain: gain, Bandwidth: gain * pole * 1e6, Swing: 1e3},
				Resistor{out, nodes[i], 1e3}, Capacitor{A: nodes[i], Farads: 1 / (2 * math.Pi * pole * 1e3)},
			)
		}
		return growth(t, c.Compile()).Rate
	}
	if g := rate(7.9); g >= 0 {
		t.Errorf("loop gain 7.9 grows at %g/s", g)
	}
	if g := rate(8.1); g <= 0 {
		t.Errorf("loop gain 8.1 dies away at %g/s", g)
	}
}

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

// TestRingingDies kicks a store that hardly moves, y' = s y with a millionth a step, so that
// it changes sides from step to step: under the corrected rule that falls to two thirds or
// less in a step. A correction with a root at -1, as twice the newest third difference less
// the one before has, would leave it as it is.
func TestRingingDies(t *testing.T) {
	const z, steps = -1e-6, 40
	y := newPast(1)
	for i := range remembered {
		y.at(i)[0] = float64(1 - 2*(i&1))
	}
	for range steps {
		y.push([]float64{((1+z/2)*y.newest()[0] + y.bend(0)) / (1 - z/2)})
	}
	if left := math.Abs(y.newest()[0] - y.at(1)[0]); !(left < math.Pow(2.0/3, steps-remembered)) {
		t.Errorf("after %d steps %g of 2 is left", steps, left)
	}
}

// TestTrials takes steps that are split: calm parts have the next step tried whole, but
// after failures one, three, seven and at most 15 calm steps are split untried.
func TestTrials(t *testing.T) {
	var r trial
	r.after(false)
	if !r.waits {
		t.Error("after rough parts the next step is tried")
	}
	r.after(true)
	for _, want := range []int{1, 3, 7, 15, 15} {
		if r.waits {
			t.Fatal("after calm parts the next step is not tried")
		}
		r.failed()
		waited := 0
		for r.after(true); r.waits; r.after(true) {
			waited++
		}
		if waited != want {
			t.Errorf("waited for %d steps, want %d", waited, want)
		}
	}
	r = trial{}
	if r.failed(); r.left != 0 {
		t.Error("a first failure, which was no trial, is waited for")
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
