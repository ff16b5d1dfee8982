package network

import (
	"math"
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
