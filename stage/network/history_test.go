package network

import (
	"math"
	"testing"
)

// quartic is any polynomial of fourth degree.
func quartic(x float64) float64 { return 2 + x*(-1+x*(0.5+x*(0.3-0.2*x))) }

// parabola is any of second degree.
func parabola(x float64) float64 { return 2 + x*(-1+0.5*x) }

// along is the history of a function with the newest value at 0.
func along(f func(float64) float64, spacing float64) history {
	var t history
	for i := range t {
		t[i] = f(-float64(i) * spacing)
	}
	return t
}

// TestHistoryFollowsPolynomials checks what a history extrapolates and remembers where it is
// exact: it extrapolates a quartic, knows it between its values, and goes back along a
// parabola.
func TestHistoryFollowsPolynomials(t *testing.T) {
	steps := along(quartic, 1)
	within(t, "extrapolated", steps.extrapolate(), quartic(1), 1e-12)
	for i, v := range steps.inParts() {
		within(t, "in parts", v, quartic(-float64(i)/splitInto), 1e-12)
	}
	parts := along(parabola, 1.0/splitInto)
	for i, v := range parts.inSteps() {
		within(t, "in steps", v, parabola(-float64(i)), 1e-12)
	}
	pushed := along(quartic, 1)
	pushed.push(quartic(1))
	within(t, "newest", pushed[0], quartic(1), 0)
	within(t, "oldest", pushed[remembered-1], quartic(-3), 0)
}

// momentsOf integrates the quartic over a stretch of a step by Simpson's rule.
func momentsOf(from, to float64) Stretch {
	const n = 2000
	var s Stretch
	for i := range n + 1 {
		w := float64(2 + 2*(i&1))
		if i == 0 || i == n {
			w = 1
		}
		place := float64(i)/n - 0.5
		v := w / (3 * n) * quartic(from+(to-from)*float64(i)/n)
		s.Mean += v
		s.Tilt += v * place
	}
	return s
}

// TestStretchesOfPolynomial checks mean and tilt of the parts of a step, and of a step
// joined from its parts, against Simpson's rule.
func TestStretchesOfPolynomial(t *testing.T) {
	values := history{quartic(1), quartic(0), quartic(-1), quartic(-2), quartic(-3)}
	parts := make([]Stretch, Samples)
	for i := range parts {
		parts[i] = smooth[0][i].of(values[:])
		want := momentsOf(float64(i)/Samples, float64(i+1)/Samples)
		within(t, "mean of a part", parts[i].Mean, want.Mean, 1e-11)
		within(t, "tilt of a part", parts[i].Tilt, want.Tilt, 1e-11)
	}
	want, one, all := momentsOf(0, 1), smooth[maximumDepth][0].of(values[:]), joined(parts)
	within(t, "mean", one.Mean, want.Mean, 1e-11)
	within(t, "tilt", one.Tilt, want.Tilt, 1e-11)
	within(t, "mean of the parts", all.Mean, want.Mean, 1e-11)
	within(t, "tilt of the parts", all.Tilt, want.Tilt, 1e-11)
}

// TestInputBetweenSamples checks the watched source between its given values.
func TestInputBetweenSamples(t *testing.T) {
	var in input
	for i := range in.values {
		in.values[i] = quartic(float64(i))
	}
	in.prepare()
	for x := 0.0; x <= Samples; x += 0.25 {
		within(t, "between", in.at(x), quartic(x), 1e-11*math.Abs(quartic(Samples)))
	}
}
