package network

import (
	"math"
	"testing"
)

// TestGrowthOfResonance checks a series resonance against its roots (textbook):
// rate -R/(2L), swinging at sqrt(1/LC - (R/2L)^2).
func TestGrowthOfResonance(t *testing.T) {
	const ohms, henries, farads = 10.0, 1e-3, 1e-7
	c := New()
	in, _ := c.Drive("in", 0)
	a, b := c.Node("a"), c.Node("b")
	c.Add(Resistor{in, a, ohms}, Inductor{A: a, B: b, Henries: henries}, Capacitor{A: b, Farads: farads})
	s := c.Compile()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	g := s.Transient(1e-6).Growth()
	rate := -ohms / (2 * henries)
	within(t, "rate", g.Rate, rate, 1e-6*math.Abs(rate))
	hertz := math.Sqrt(1/(henries*farads)-rate*rate) / (2 * math.Pi)
	within(t, "frequency", g.Hertz, hertz, 1e-6*hertz)
}

// TestGrowthOfLoop checks a feedback amplifier with two more poles against the
// limit of the three-pole loop: three equal poles stand a loop gain of 8 (from the
// phase of 60 degrees each at sqrt 3 times the pole; textbook).
func TestGrowthOfLoop(t *testing.T) {
	growth := func(loop float64) float64 {
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
		s := c.Compile()
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		return s.Transient(1e-6).Growth().Rate
	}
	if g := growth(7.9); g >= 0 {
		t.Errorf("loop gain 7.9 grows at %g/s", g)
	}
	if g := growth(8.1); g <= 0 {
		t.Errorf("loop gain 8.1 dies away at %g/s", g)
	}
}
