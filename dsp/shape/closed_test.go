package shape_test

import (
	"math"
	"math/cmplx"
	"testing"

	"quietcross/dsp/shape"
)

// within fails unless got is want to the given number of decimals.
func within(t *testing.T, what string, got, want, most float64) {
	t.Helper()
	if !(math.Abs(got-want) <= most) {
		t.Errorf("%s is %.12g, want %.12g within %g", what, got, want, most)
	}
}

// TestClassABTable holds a fitted law to the class AB example of Sedra and Smith,
// Microelectronic Circuits: VT 25 mV, load 100 ohm, 2 mA quiescent, no emitter
// resistors. The table's inputs are from memory, its figures computed from the
// exponential law.
func TestClassABTable(t *testing.T) {
	p := pair{vt: 25e-3, re: 0, rl: 100, iq: 2e-3}
	l := mustFit(t, p.law, -12, 12, 1e-7)
	for _, row := range []struct{ vo, vi, gain float64 }{
		{10, 10.09781, 0.99751},
		{5, 5.08051, 0.99504},
		{1, 1.04118, 0.97732},
		{0.1, 0.106187, 0.94283},
		{0, 0, 0.94118},
	} {
		within(t, "output", l.At(row.vi), row.vo, 6e-6)
		within(t, "output", l.At(-row.vi), -row.vo, 6e-6)
		within(t, "gain", l.Slope(row.vi), row.gain, 6e-6)
	}
}

// TestOptimumBiasTable holds a fitted law to the condition IQ·RE = kT/q of Oliver
// (Hewlett-Packard Journal, Feb 1971): the gain at rest is that of RE alone, and the
// output resistance peaks at 1.202558 RE where the load current is 3.86 VT/RE. Gains
// for RE 0.22, RL 8 computed from that.
func TestOptimumBiasTable(t *testing.T) {
	p := demoPairs()["optimum"]
	l := lawOf(t, p)
	within(t, "gain at rest", l.Slope(0), 0.97324, 6e-6)
	minimum := 0.0
	for x := 0.0; x < 20; x += 0.001 {
		if l.Slope(x) < l.Slope(minimum) {
			minimum = x
		}
	}
	within(t, "minimum gain", l.Slope(minimum), 0.96799, 6e-6)
	within(t, "current there", l.At(minimum)/p.rl, 3.86*p.vt/p.re, 0.002)
}

// steady returns the amplitudes of the harmonics of 1 kHz at 8 times 48 kHz.
func steady(l *shape.Law, a float64) func(order int) float64 {
	x := near(1000, a)
	c := x.spectrum(l, 8)
	return func(order int) float64 { return real(c[order*x.cycles]) }
}

// TestTanh: the third harmonic of tanh(A sin t) to the first, a quadrature of the
// closed form. A cosine turns the sign of the third.
func TestTanh(t *testing.T) {
	l := mustFit(t, func(x float64) (y, slope float64, err error) {
		y = math.Tanh(x)
		return y, 1 - y*y, nil
	}, -4, 4, 1e-10)
	for a, want := range map[float64]float64{0.1: 0.0008312555, 1: 0.06683187795, 2: 0.1688301828} {
		h := steady(l, a)
		within(t, "third to first", -h(3)/h(1), want, 2e-8)
	}
}

// TestDeadBand: a band of ±d with true corners, whose gain and harmonics are known
// (describing function: Gelb and Vander Velde, Multiple-Input Describing Functions,
// 1968; harmonics by the same integral). The law meets the corners by cells of
// 2^-20 of its range.
func TestDeadBand(t *testing.T) {
	const d = 0.55
	l := mustFit(t, func(x float64) (y, slope float64, err error) {
		if math.Abs(x) <= d {
			return 0, 0, nil
		}
		return x - math.Copysign(d, x), 1, nil
	}, -40, 40, 4e-6)
	for _, row := range []struct{ r, gain, third, fifth, seventh float64 }{
		{0.05, 0.9363645585, -0.022577885, -0.013456419, -0.00951545},
		{0.1, 0.8728885716, -0.047894192, -0.027970208, -0.019174098},
		{0.2, 0.7470600781, -0.10687354, -0.057284216, -0.034175103},
		{0.5, 0.391002219, -0.35251008, -0.070502016, +0.025179291},
	} {
		h := steady(l, d/row.r)
		within(t, "gain", h(1)/(d/row.r), row.gain, 4e-7)
		// The table is for a sine; a cosine turns the sign of orders 3 and 7.
		within(t, "third to first", -h(3)/h(1), row.third, 1e-6)
		within(t, "fifth to first", h(5)/h(1), row.fifth, 1e-6)
		within(t, "seventh to first", -h(7)/h(1), row.seventh, 1e-6)
	}
}

// TestCubicIntermodulation: the product 2f1-f2 of x + a3·x³ is 3/4·a3·A³ for two
// equal tones A.
func TestCubicIntermodulation(t *testing.T) {
	const a3, a = 0.01, 0.5
	l := mustFit(t, func(x float64) (y, slope float64, err error) {
		return x + a3*x*x*x, 1 + 3*a3*x*x, nil
	}, -2, 2, 1e-9)
	low, high := near(9000, a), near(10000, a)
	x := tone(a, low.cycles, frames, 0)
	for i, v := range tone(a, high.cycles, frames, 0) {
		x[i] += v
	}
	c := periodSpectrum(l, x, 8)
	within(t, "2f1-f2", cmplx.Abs(c[2*low.cycles-high.cycles]), 9.375e-4, 1e-9)
	within(t, "2f2-f1", cmplx.Abs(c[2*high.cycles-low.cycles]), 9.375e-4, 1e-9)
}
