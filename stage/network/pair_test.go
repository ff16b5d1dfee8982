package network

import (
	"math"
	"testing"

	"quietcross/stage/device"
)

// idealPair is a complementary follower of ideal devices (infinite gain, no
// Early effect) between an ideal bias source split about the input and a load.
type idealPair struct {
	solver           *Solver
	in, upper, lower Source
	output           Node
}

func newIdealPair(rail, re, rl, saturation, vt float64) idealPair {
	c := New()
	in, source := c.Drive("in", 0)
	high, _ := c.Drive("upper rail", rail)
	low, _ := c.Drive("lower rail", -rail)
	p := idealPair{in: source, output: c.Node("out")}
	b1, b2, e1, e2 := c.Node("b1"), c.Node("b2"), p.output, p.output
	if re > 0 {
		e1, e2 = c.Node("e1"), c.Node("e2")
		c.Add(Resistor{e1, p.output, re}, Resistor{e2, p.output, re})
	}
	p.upper = c.VoltageSource("upper bias", b1, in, 0)
	p.lower = c.VoltageSource("lower bias", in, b2, 0)
	law := device.Transistor{Diode: device.NewDiode(saturation, vt)}
	c.Add(
		&Bipolar{Name: "upper", Collector: high, Base: b1, Emitter: e1, Polarity: NPN, Law: law},
		&Bipolar{Name: "lower", Collector: low, Base: b2, Emitter: e2, Polarity: PNP, Law: law},
		Resistor{p.output, Ground, rl},
	)
	p.solver = c.Compile()
	return p
}

// bias sets the voltage between the bases.
func (p idealPair) bias(volts float64) {
	p.solver.Set(p.upper, volts/2)
	p.solver.Set(p.lower, volts/2)
}

// at solves for an input.
func (p idealPair) at(t *testing.T, in float64) (out, gain float64) {
	t.Helper()
	p.solver.Set(p.in, in)
	if err := p.solver.Solve(); err != nil {
		t.Fatalf("input %g V: %v", in, err)
	}
	return p.solver.Voltage(p.output), p.solver.Derivative(p.output, p.in)
}

// TestClassABExample holds the solved pair to the class-AB output stage example
// of Sedra and Smith, Microelectronic Circuits (VCC 15 V, RL 100 ohm, IS 1e-13 A,
// IQ 2 mA, VT 25 mV; inputs from memory, answers computed from its equations).
func TestClassABExample(t *testing.T) {
	p := newIdealPair(15, 0, 100, 1e-13, 0.025)
	p.bias(1.18595)
	rows := []struct{ vo, iN, iP, vi, rout, gain float64 }{
		{10, 100.040, 0.039984, 10.09781, 0.24980, 0.99751},
		{5, 50.0799, 0.079872, 5.08051, 0.49841, 0.99504},
		{1, 10.3852, 0.385165, 1.04118, 2.32119, 0.97732},
		{0.1, 2.56155, 1.56155, 0.106187, 6.06339, 0.94283},
		{0, 2, 2, 0, 6.25, 0.94118},
	}
	for _, row := range rows {
		vo, gain := p.at(t, row.vi)
		upper, lower := p.solver.Device(0), p.solver.Device(1)
		within(t, "vo", vo, row.vo, 1e-5)
		within(t, "gain", gain, row.gain, 6e-6)
		within(t, "rout", 100*(1/gain-1), row.rout, 2e-4*row.rout)
		within(t, "iN", upper.Current*1e3, row.iN, 2e-4*row.iN)
		within(t, "iP", lower.Current*1e3, row.iP, 2e-4*row.iP)
	}
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g within %.2g", what, got, want, tolerance)
	}
}

func BenchmarkSweep(b *testing.B) {
	p := newIdealPair(30, 0.22, 8, 1e-13, 0.025)
	p.bias(1.18595)
	for i := 0; b.Loop(); i++ {
		p.solver.Set(p.in, 20*math.Sin(float64(i)*0.01))
		if p.solver.Solve() != nil {
			b.Fatal("no solution")
		}
		p.solver.Derivative(p.output, p.in)
	}
	b.ReportMetric(float64(p.solver.Iterations())/float64(b.N), "iterations/op")
}
