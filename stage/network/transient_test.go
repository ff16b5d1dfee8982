package network

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mat"

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

// quartic is any polynomial of fourth degree.
func quartic(x float64) float64 { return 2 + x*(-1+x*(0.5+x*(0.3-0.2*x))) }

// parabola is any of second degree.
func parabola(x float64) float64 { return 2 + x*(-1+0.5*x) }

// along is the past of a function with the newest value at 0, behind that of another
// quantity.
func along(f func(float64) float64, spacing float64) past {
	p := newPast(2)
	for time := range remembered {
		p.at(time)[1] = f(-float64(time) * spacing)
	}
	return p
}

// TestPastFollowsPolynomials checks what a past extrapolates and remembers where it is exact:
// it extrapolates a quartic, knows it between its values, and goes back along a parabola.
func TestPastFollowsPolynomials(t *testing.T) {
	steps := along(quartic, 1)
	next := make([]float64, 2)
	steps.extrapolate(next, 0, len(next))
	within(t, "extrapolated", next[1], quartic(1), 1e-12)
	other := newPast(1)
	other.inParts(0, &steps, 1)
	for i, v := range other.values {
		within(t, "in parts", v, quartic(-float64(i)/splitInto), 1e-12)
	}
	parts := along(parabola, 1.0/splitInto)
	other.inSteps(0, &parts, 1)
	for i, v := range other.values {
		within(t, "in steps", v, parabola(-float64(i)), 1e-12)
	}
	steps.push([]float64{0, quartic(1)})
	within(t, "newest", steps.newest()[1], quartic(1), 0)
	within(t, "oldest", steps.at(remembered - 1)[1], quartic(2-remembered), 0)
	for push := range 3 * pushes {
		steps.push([]float64{0, float64(push)})
		for time := range min(push, remembered) {
			within(t, "later", steps.at(time)[1], float64(push-time), 0)
		}
	}
}

// momentsOf integrates the quartic over a stretch of a step by Simpson's rule.
func momentsOf(from, to float64) stretch {
	const n = 2000
	var s stretch
	for i := range n + 1 {
		w := float64(2 + 2*(i&1))
		if i == 0 || i == n {
			w = 1
		}
		place := float64(i)/n - 0.5
		v := w / (3 * n) * quartic(from+(to-from)*float64(i)/n)
		s.mean += v
		s.tilt += v * place
	}
	return s
}

// TestStretchesOfPolynomial checks mean and tilt of the parts of a step, and of a step
// joined from its parts, against Simpson's rule.
func TestStretchesOfPolynomial(t *testing.T) {
	values := [fitted]float64{quartic(1), quartic(0), quartic(-1), quartic(-2), quartic(-3)}
	parts := make([]stretch, Samples)
	for i := range parts {
		parts[i] = smooth[0][i].of(&values)
		want := momentsOf(float64(i)/Samples, float64(i+1)/Samples)
		within(t, "mean of a part", parts[i].mean, want.mean, 1e-11)
		within(t, "tilt of a part", parts[i].tilt, want.tilt, 1e-11)
	}
	want, one, all := momentsOf(0, 1), smooth[maximumDepth][0].of(&values), joined(parts)
	within(t, "mean", one.mean, want.mean, 1e-11)
	within(t, "tilt", one.tilt, want.tilt, 1e-11)
	within(t, "mean of the parts", all.mean, want.mean, 1e-11)
	within(t, "tilt of the parts", all.tilt, want.tilt, 1e-11)
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

// meanFlow is how a rule takes a junction's mean current over a step from its voltages
// at both ends.
type meanFlow func(p handPair, from, to float64) float64

func byTrapezoid(p handPair, from, to float64) float64 {
	return (p.junction(from) + p.junction(to)) / 2
}

// byAntiderivative is the discrete gradient (M. Holters, Applied Sciences 10(1):20,
// 2020).
func byAntiderivative(p handPair, from, to float64) float64 {
	if math.Abs(to-from) < 1e-6 {
		return byTrapezoid(p, from, to)
	}
	integral := func(v float64) float64 { return p.is * (p.vt*math.Exp(v/p.vt) - v) }
	return (integral(to) - integral(from)) / (to - from)
}

func (p handPair) junction(v float64) float64 { return p.is * math.Expm1(v/p.vt) }

// unsplit is the pair into a resistor, of whole steps alone: its unknowns are the two
// emitters and the output, V.
type unsplit struct {
	pair handPair
	ohms float64
	mean meanFlow
}

func (u unsplit) at(in float64) [3]float64 {
	p := u.pair
	out := p.output(in, func(out float64) float64 { return out / u.ohms })
	return [3]float64{out + p.re*p.branch(in+p.bias/2-out), out - p.re*p.branch(out-in+p.bias/2), out}
}

// step solves for the unknowns at the end of a step by Newton's method, the Jacobian by
// differences, from where they would be without one.
func (u unsplit) step(from [3]float64, in0, in1 float64) [3]float64 {
	p := u.pair
	rest := func(x [3]float64) [3]float64 {
		upper := u.mean(p, in0+p.bias/2-from[0], in1+p.bias/2-x[0])
		lower := u.mean(p, from[1]-in0+p.bias/2, x[1]-in1+p.bias/2)
		out := (x[2] + from[2]) / 2
		i, j := ((x[0]+from[0])/2-out)/p.re, (out-(x[1]+from[1])/2)/p.re
		return [3]float64{upper - i, lower - j, i - j - out/u.ohms}
	}
	x := u.at(in1)
	for range 60 {
		r := rest(x)
		jacobian := mat.NewDense(3, 3, nil)
		for j := range x {
			moved := x
			moved[j] += 1e-9
			for i, v := range rest(moved) {
				jacobian.Set(i, j, (v-r[i])/1e-9)
			}
		}
		var move mat.VecDense
		if move.SolveVec(jacobian, mat.NewVecDense(3, r[:])) != nil {
			break
		}
		worst := 0.0
		for i := range x {
			d := max(-0.1, min(0.1, move.AtVec(i)))
			x[i] -= d
			worst = max(worst, math.Abs(d))
		}
		if worst < 1e-10 {
			break
		}
	}
	return x
}

// error returns the maximum line of the error of a tone's mean over each step, up to the
// band's edge, in dB re the tone.
func (u unsplit) error(hertz float64, d delivery) float64 {
	const peak, parts = 17, 64
	samples := int(math.Round(1 / hertz / d.sample))
	if hertz > 5000 {
		samples = int(math.Round(5 / hertz / d.sample)) // a whole number
	}
	in := func(i float64) float64 { return peak * math.Sin(2*math.Pi*hertz*d.sample*i+0.3) }
	e := make([]float64, samples)
	x := u.at(in(0))
	for i := range e {
		next := u.step(x, in(float64(i)), in(float64(i+1)))
		e[i] = (x[2] + next[2]) / 2
		for j := range parts {
			e[i] -= u.at(in(float64(i) + (float64(j)+0.5)/parts))[2] / parts
		}
		x = next
	}
	transform, worst := fourier.NewFFT(samples), 0.0
	for i, c := range transform.Coefficients(nil, e) {
		if transform.Freq(i)/d.sample <= bandEdge {
			worst = max(worst, 2*math.Hypot(real(c), imag(c))/float64(samples))
		}
	}
	return 20 * math.Log10(worst/peak)
}

// TestAntiderivativesWeighed is why steps are split at kinks instead of taking each
// junction's mean current from its antiderivative: unsplit steps are wrong either way by
// more than a rendering may be. The figures are in the comment of the stage's Dynamic.
func TestAntiderivativesWeighed(t *testing.T) {
	for _, bias := range []float64{0, 1.2, 1.3} {
		pair := handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: bias}
		for _, row := range []struct {
			hertz, times, minimum float64
		}{{1000, 8, -100}, {10000, 16, -70}} {
			trapezoid := unsplit{pair, 8, byTrapezoid}.error(row.hertz, over(row.times))
			antiderivative := unsplit{pair, 8, byAntiderivative}.error(row.hertz, over(row.times))
			t.Logf("%g V, %g Hz, %gx: trapezoid %.1f dB, antiderivative %.1f dB", bias, row.hertz, row.times, trapezoid, antiderivative)
			if min(trapezoid, antiderivative) < row.minimum {
				t.Errorf("%g V, %g Hz: unsplit steps would do", bias, row.hertz)
			}
		}
	}
}
