package network

import (
	"math"
	"testing"

	"quietcross/stage/device"
)

// speaker is an invented loudspeaker.
var speaker = SpeakerLaw{Ohms: 6.4, Resonance: 92, Qms: 4.2, Qes: 1.15}

// transientPair builds the ideal pair of handPair around any load.
func transientPair(p handPair, rail float64, load func(c *Circuit, out Node)) (s *Solver, in Source, out Node) {
	c := New()
	input, in := c.Drive("in", 0)
	high, _ := c.Drive("high", rail)
	low, _ := c.Drive("low", -rail)
	out = c.Node("out")
	b1, b2, e1, e2 := c.Node("b1"), c.Node("b2"), c.Node("e1"), c.Node("e2")
	c.VoltageSource("upper bias", b1, input, p.bias/2)
	c.VoltageSource("lower bias", input, b2, p.bias/2)
	law := device.Transistor{Diode: device.NewDiode(p.is, p.vt)}
	c.Add(
		Resistor{e1, out, p.re}, Resistor{e2, out, p.re},
		&Bipolar{Name: "upper", Collector: high, Base: b1, Emitter: e1, Polarity: NPN, Law: law},
		&Bipolar{Name: "lower", Collector: low, Base: b2, Emitter: e2, Polarity: PNP, Law: law},
	)
	load(c, out)
	s = c.Compile()
	return s, in, out
}

// sine is a tone that fades in over its first cycle.
func sine(peak, hertz float64) func(t float64) float64 {
	return func(t float64) float64 {
		fade := math.Sin(math.Pi / 2 * min(1, max(0, t*hertz)))
		return peak * fade * fade * math.Sin(2*math.Pi*hertz*t)
	}
}

// run steps a transient through a signal and returns a node's voltage at every
// step.
func run(t testing.TB, s *Solver, in Source, out Node, signal func(float64) float64, step float64, count int) ([]float64, Steps) {
	t.Helper()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	tr := s.Transient(step)
	got := make([]float64, count)
	for i := range got {
		tr.Set(in, signal(float64(i+1)*step))
		if err := tr.Step(); err != nil {
			t.Fatal(err)
		}
		got[i] = tr.Solver().Voltage(out)
	}
	return got, tr.Steps()
}

// worstError is the maximum difference in dB re the maximum size of want.
func worstError(got, want []float64) float64 {
	worst, peak := 0.0, 0.0
	for i, w := range want {
		worst, peak = max(worst, math.Abs(got[i]-w)), max(peak, math.Abs(w))
	}
	return 20 * math.Log10(worst/peak)
}

func BenchmarkTransient(b *testing.B) {
	p := handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: 1.2}
	s, in, out := transientPair(p, 30, func(c *Circuit, out Node) { c.Add(Loudspeaker{A: out, SpeakerLaw: speaker}) })
	if err := s.Solve(); err != nil {
		b.Fatal(err)
	}
	const step = 1.0 / 384000
	tr := s.Transient(step)
	signal := sine(17, 1000)
	for i := 0; b.Loop(); i++ {
		tr.Set(in, signal(float64(i+1)*step))
		if err := tr.Step(); err != nil {
			b.Fatal(err)
		}
		tr.Solver().Voltage(out)
	}
	b.ReportMetric(float64(tr.Steps().Iterations)/float64(b.N), "iterations/op")
}
