package network

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The tests of this file look at a stage as it is rendered: four samples a step, at 16
// times 48 kHz, each sample the mean under a triangle of two, up to 20 kHz.
const (
	deliveredStep = 1.0 / 48000 / 16
	bandEdge      = 20e3
)

// deliver steps a watched transient through a signal and returns the means of a node's
// voltage under a triangle about each sample but the last.
func deliver(t *testing.T, s *Solver, in Source, out Node, signal func(float64) float64, count int) ([]float64, Steps) {
	t.Helper()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	motions, ok := s.Transient(deliveredStep).Motions()
	if !ok {
		t.Fatal("no motions")
	}
	tr := s.Transient(Samples * deliveredStep)
	tr.Watch(in, out)
	if !tr.Sharpen(motions) {
		t.Error("the rule cannot be corrected")
	}
	var got []float64
	kept := s.Voltage(out) / 2
	for i := 0; i < count; i += Samples {
		for j := range Samples - 1 {
			tr.SetInside(j, signal(float64(i+1+j)*deliveredStep))
		}
		tr.Set(in, signal(float64(i+Samples)*deliveredStep))
		if err := tr.Step(); err != nil {
			t.Fatal(err)
		}
		for j := range Samples {
			part := tr.Over(j)
			got = append(got, kept+part.Mean/2-part.Tilt)
			kept = part.Mean/2 + part.Tilt
		}
	}
	return got[1:], tr.Steps()
}

// underTriangle returns the same of an output by hand: the second difference of its
// double integral, which is integrated beside the states.
func underTriangle(method func(f func(t float64, y, dy []float64), y0, scale, times []float64, tolerance float64) [][]float64,
	f func(t float64, y, dy []float64), output func(t float64, y []float64) float64,
	y0, scale []float64, peak float64, count int, tolerance float64,
) []float64 {
	n := len(y0)
	const h = deliveredStep
	all := method(func(t float64, y, dy []float64) {
		f(t, y[:n], dy[:n])
		dy[n], dy[n+1] = output(t, y[:n]), y[n]
	}, append(append([]float64{}, y0...), 0, 0), append(append([]float64{}, scale...), peak*h, peak*h*h), grid(h, count), tolerance)
	at := func(i int) float64 {
		if i < 0 {
			return 0 // nothing flowed before
		}
		return all[i][n+1]
	}
	want := make([]float64, count-1)
	for i := range want {
		want[i] = (at(i+1) - 2*at(i) + at(i-1)) / (h * h)
	}
	return want
}

// inBand returns the greatest difference up to the band's edge over the last samples, in
// dB re the greatest size of want.
func inBand(got, want []float64, samples int) float64 {
	from := len(got) - samples
	e := make([]float64, samples)
	peak := 0.0
	for i := range e {
		e[i] = got[from+i] - want[from+i]
		peak = max(peak, math.Abs(want[from+i]))
	}
	transform := fourier.NewFFT(samples)
	lines := transform.Coefficients(nil, e)
	for i := range lines {
		if transform.Freq(i)/deliveredStep > bandEdge {
			lines[i] = 0
		}
	}
	worst := 0.0
	for _, v := range transform.Sequence(nil, lines) {
		worst = max(worst, math.Abs(v)/float64(samples))
	}
	return 20 * math.Log10(worst/peak)
}

// periods returns how many samples to take of a tone, and how many whole periods of
// them to look at.
func periods(hertz float64) (count, look int) {
	cycles := 3.0
	if hertz > 5000 {
		cycles = 15 // five of 10 kHz are a whole number of samples
	}
	return int(math.Round(cycles/hertz/deliveredStep)) / Samples * Samples, int(math.Round(cycles / 3 / hertz / deliveredStep))
}

// report fails unless an error in dB is within its bar.
func report(t *testing.T, e, bar float64, steps Steps) {
	t.Helper()
	t.Logf("error %.1f dB, bar %g; %+v", e, bar, steps)
	if !(e <= bar) {
		t.Errorf("error %.1f dB, bar %g", e, bar)
	}
}

// cone is the loudspeaker by hand: its states are the voltage across the moving
// system, the current in its compliance and, with a voice coil of some inductance, the
// current in that; where the pair has no bias, the arsinh of that current over a
// picoampere, in which the crossover of many decades runs smoothly.
type cone struct {
	pair   handPair
	law    SpeakerLaw
	signal func(float64) float64
}

const picoampere = 1e-12

// coil returns the current in the voice coil, and its slope by the state.
func (c cone) coil(state float64) (amperes, slope float64) {
	if c.pair.bias > 0 {
		return state, 1
	}
	return picoampere * math.Sinh(state), picoampere * math.Cosh(state)
}

func (c cone) output(t float64, y []float64) float64 {
	return c.pair.output(c.signal(t), func(out float64) float64 {
		if c.law.Henries > 0 {
			i, _ := c.coil(y[2])
			return i
		}
		return (out - y[0]) / c.law.Ohms
	})
}

func (c cone) slopes(t float64, y, dy []float64) {
	res := c.law.Ohms * c.law.Qms / c.law.Qes
	cmes := c.law.Qes / (2 * math.Pi * c.law.Resonance * c.law.Ohms)
	lces := c.law.Ohms / (2 * math.Pi * c.law.Resonance * c.law.Qes)
	out := c.output(t, y)
	i := (out - y[0]) / c.law.Ohms
	if c.law.Henries > 0 {
		var slope float64
		i, slope = c.coil(y[2])
		dy[2] = (out - y[0] - c.law.Ohms*i) / c.law.Henries / slope
	}
	dy[0] = (i - y[0]/res - y[1]) / cmes
	dy[1] = y[0] / lces
}

// TestSpeakerDelivered holds the rendering of the pair into a loudspeaker to the hand-
// written integration. With an inductive voice coil and no bias the output steps by the
// whole dead zone when the current changes sign.
func TestSpeakerDelivered(t *testing.T) {
	for _, row := range []struct{ henries, hertz, bias, bar float64 }{
		{0, 1000, 0, -100},
		{0, 1000, 1.2, -100},
		{0, 1000, 1.3, -100},
		{0, 10000, 0, -70},
		{0, 10000, 1.2, -80},
		{0, 10000, 1.3, -80},
		{0.3e-3, 1000, 0, -100},
		{0.3e-3, 1000, 1.2, -100},
		{0.3e-3, 1000, 1.3, -100},
		{0.3e-3, 10000, 0, -70},
		{0.3e-3, 10000, 1.2, -80},
		{0.3e-3, 10000, 1.3, -80},
	} {
		t.Run(fmt.Sprintf("%g mH/%g Hz/%g V", row.henries*1e3, row.hertz, row.bias), func(t *testing.T) {
			t.Parallel()
			c := cone{handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: row.bias}, speaker, sine(17, row.hertz)}
			c.law.Henries = row.henries
			count, look := periods(row.hertz)
			states := []float64{0, 0, 0}
			if row.henries == 0 {
				states = states[:2]
			}
			method, tolerance := integrate, 1e-9
			if row.henries > 0 && row.bias == 0 {
				method, tolerance = integrateStiff, 1e-6
			}
			want := underTriangle(method, c.slopes, c.output, states, []float64{1, 1, 1}[:len(states)], 17, count, tolerance)
			s, in, out := transientPair(c.pair, 30, func(n *Circuit, out Node) { n.Add(Loudspeaker{A: out, SpeakerLaw: c.law}) })
			got, steps := deliver(t, s, in, out, c.signal, count)
			e := inBand(got, want, look)
			report(t, e, row.bar, steps)
		})
	}
}

// TestFeedbackDelivered holds the rendering of the pair inside a feedback loop to its
// own equations: the amplifier is dv/dt = 2 pi B (vi - vo/A) - 2 pi B v/G, of
// gain-bandwidth B, gain G and closed-loop gain A.
func TestFeedbackDelivered(t *testing.T) {
	const gain, bandwidth, closed, ohms = 2e4, 3e6, 12.0, 8.0
	for _, row := range []struct{ hertz, bias, bar float64 }{
		{1000, 0, -100}, {1000, 1.2, -100}, {10000, 0, -70}, {10000, 1.2, -80},
	} {
		t.Run(fmt.Sprintf("%g Hz/%g V", row.hertz, row.bias), func(t *testing.T) {
			t.Parallel()
			p := handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: row.bias}
			signal := sine(1.2, row.hertz)
			count, look := periods(row.hertz)
			load := func(out float64) float64 { return out/ohms + out/(closed*1e3) }
			output := func(_ float64, y []float64) float64 { return p.output(y[0], load) }
			want := underTriangle(integrate, func(at float64, y, dy []float64) {
				err := signal(at) - output(at, y)/closed
				dy[0] = 2 * math.Pi * bandwidth * (err - y[0]/gain)
			}, output, []float64{0}, []float64{1}, 14, count, 1e-9)
			s, in, out := feedbackPair(p, gain, bandwidth, closed, ohms)
			got, steps := deliver(t, s, in, out, signal, count)
			e := inBand(got, want, look)
			report(t, e, row.bar, steps)
		})
	}
}
