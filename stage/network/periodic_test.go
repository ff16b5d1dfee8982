package network

import (
	"math"
	"math/cmplx"
	"testing"

	"quietcross/stage/device"
)

// pure is one tone, a cosine.
func pure(hertz, peak float64) Signal {
	return Signal{
		Period: 1 / hertz, Peak: peak, Longest: 1 / (6 * hertz),
		At: func(t float64) float64 { return peak * math.Cos(2*math.Pi*hertz*t) },
	}
}

func settledAt(t *testing.T, s *Solver, in Source, out Node, signal Signal, orders ...int) []complex128 {
	t.Helper()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	c, err := s.Periodic(in, out).Solve(signal)
	if err != nil {
		t.Fatal(err)
	}
	return c.Lines(orders)
}

// closeLines compares lines by their distance re a size.
func closeLines(t *testing.T, name string, got, want []complex128, size, tolerance float64) {
	t.Helper()
	for i := range want {
		if e := cmplx.Abs(got[i]-want[i]) / size; !(e <= tolerance) {
			t.Errorf("%s, line %d: %v, want %v: out by %.3g of %g", name, i, got[i], want[i], e, tolerance)
		}
	}
}

// TestRadauNodes holds the nodes of three to the method's own table, (4 -+ sqrt 6)/10
// and 1, and its weights (Hairer and Wanner, Solving Ordinary Differential Equations II,
// table 5.6), and quadrature and derivative of five to the powers they are exact for.
func TestRadauNodes(t *testing.T) {
	root := math.Sqrt(6)
	three := newCollocation(3)
	for i, want := range []float64{(4 - root) / 10, (4 + root) / 10, 1} {
		within(t, "node", three.nodes[i], want, 1e-14)
	}
	for i, want := range []float64{(16 - root) / 36, (16 + root) / 36, 1.0 / 9} {
		within(t, "weight", three.weight[i], want, 1e-14)
	}
	c := newCollocation(5)
	for power := range 9 {
		sum := 0.0
		for i, at := range c.nodes {
			sum += c.weight[i] * math.Pow(at, float64(power))
		}
		within(t, "mean of a power", sum, 1/float64(power+1), 1e-13)
	}
	for i, at := range c.nodes {
		slope := 0.0
		for j, from := range c.nodes {
			slope += c.slope[i][j+1] * math.Pow(from, 5)
		}
		within(t, "slope of the fifth power", slope, 5*math.Pow(at, 4), 1e-11)
	}
}

// TestSphericalBessel holds the functions to their closed forms (NIST Handbook of
// Mathematical Functions, 10.49(i)) and, where those cancel, to the first terms of
// their series, on both sides of where the method changes.
func TestSphericalBessel(t *testing.T) {
	for _, q := range []float64{0.5, 1.9, 1.9999, 2.0001, 3, 10, 200} {
		sin, cos := math.Sincos(q)
		j := bessel(q)
		within(t, "j0", j[0], sin/q, 1e-14)
		within(t, "j1", j[1], sin/(q*q)-cos/q, 1e-14)
		within(t, "j2", j[2], (3/(q*q)-1)*sin/q-3*cos/(q*q), 1e-13)
		within(t, "j3", j[3], (15/(q*q*q)-6/q)*sin/q-(15/(q*q)-1)*cos/q, 1e-12)
	}
	within(t, "j5 of little", bessel(1e-2)[5], 1e-10/10395*(1-1e-4/26), 1e-22)
	within(t, "j0 of nothing", bessel(0)[0], 1, 0)
}

// TestPeriodicLinear holds linear circuits to their transfer functions, with two tones
// at once and slow stores beside fast ones.
func TestPeriodicLinear(t *testing.T) {
	c := New()
	input, in := c.Drive("in", 0)
	a, out := c.Node("a"), c.Node("out")
	const farads, rs, series, henries, ohms = 100e-6, 33.0, 2.2, 2e-3, 8.0
	law := SpeakerLaw{Ohms: 6.4, Henries: 0.3e-3, Resonance: 92, Qms: 4.2, Qes: 1.15}
	c.Add(Resistor{input, a, series}, Capacitor{A: a, B: out, Farads: farads}, Resistor{out, Ground, rs},
		Loudspeaker{A: out, SpeakerLaw: law}, Inductor{A: out, B: Ground, Henries: henries})
	transfer := func(hertz float64) complex128 {
		s := complex(0, 2*math.Pi*hertz)
		r, f, h := law.Motional()
		motional := 1 / (complex(1/r, 0) + s*complex(f, 0) + 1/(s*complex(h, 0)))
		y := complex(1/rs, 0) + 1/(s*henries) + 1/(complex(law.Ohms, 0)+s*complex(law.Henries, 0)+motional)
		return 1 / (1 + y*(series+1/(s*farads)))
	}
	for _, base := range []float64{50, 1000} {
		signal := Signal{Period: 1 / base, Peak: 5, Longest: 1 / (6 * 7 * base), Start: 0.3 / base, At: func(t float64) float64 {
			return 4*math.Cos(2*math.Pi*base*t) + math.Sin(2*math.Pi*7*base*t)
		}}
		got := settledAt(t, c.Compile(), in, out, signal, 0, 1, 2, 7, 40)
		want := []complex128{0, 4 * transfer(base), 0, -1i * transfer(7*base), 0}
		closeLines(t, "linear", got, want, 5, 1e-8)
	}
}

// exponential is a transistor driven by a voltage, its collector far from saturation.
func exponential(vt float64) (s *Solver, in Source, out Node) {
	c := New()
	base, in := c.Drive("in", 0)
	rail, _ := c.Drive("rail", 50)
	out = c.Node("out")
	law := device.Transistor{Diode: device.NewDiode(1e-3, vt)}
	c.Add(&Bipolar{Name: "q", Collector: out, Base: base, Polarity: NPN, Law: law}, Resistor{rail, out, 1e3})
	return c.Compile(), in, out
}

// TestPeriodicExponential holds the harmonics of exp(x cos) to In(x)/I1(x) (modified
// Bessel functions; values computed at high precision outside of this project).
func TestPeriodicExponential(t *testing.T) {
	const vt = 0.025
	s, in, out := exponential(vt)
	lines := settledAt(t, s, in, out, pure(1000, 2*vt), 1, 2, 3, 5)
	for i, want := range []float64{0.4331274267, 0.1337451466, 0.0061771983} {
		within(t, "harmonic re first", real(lines[i+1]/lines[0]), want, 3e-9)
	}
}

// TestPeriodicJunctionBehindCapacitance holds the second harmonic of a junction biased
// by a current, on a capacitance and behind a resistor, to its Volterra series: with g
// the conductance and g/(2 VT) the law's second coefficient,
//
//	v1 = u H(w), H(w) = (1/R)/(1/R + g + jwC), v2 = -g/(2 VT) v1^2/2 / (1/R + g + 2jwC)
//
// which is exact but for parts of the order of (v1/VT)^2.
func TestPeriodicJunctionBehindCapacitance(t *testing.T) {
	const vt, is, amperes, ohms, farads, peak = 0.025, 1e-12, 1e-3, 50.0, 1e-6, 4e-4
	c := New()
	input, in := c.Drive("in", 0)
	out := c.Node("out")
	c.CurrentSource("bias", Ground, out, amperes+vt*math.Log(amperes/is+1)/ohms)
	c.Add(Resistor{input, out, ohms}, Capacitor{A: out, B: Ground, Farads: farads},
		&Diode{Name: "d", Anode: out, Cathode: Ground, Law: device.NewDiode(is, vt)})
	g := (amperes + is) / vt
	for _, hertz := range []float64{100, 3e3, 20e3} {
		w := 2 * math.Pi * hertz
		admittance := func(n float64) complex128 { return complex(1/ohms+g, n*w*farads) }
		first := peak / ohms / admittance(1)
		second := complex(-g/(4*vt), 0) * first * first / admittance(2)
		lines := settledAt(t, c.Compile(), in, out, pure(hertz, peak), 1, 2)
		closeLines(t, "first", lines[:1], []complex128{first}, cmplx.Abs(first), 1e-4)
		closeLines(t, "second", lines[1:], []complex128{second}, cmplx.Abs(second), 5e-4)
	}
}

// TestPeriodicLoop holds an ideal pair in a loop of finite bandwidth to its own
// equation,
//
//	dv/dt = 2 pi GBW (in - out/closed) - 2 pi GBW/gain v, out = pair(v)
//
// integrated by an explicit method of fifth order to 1e-12 a step: unbiased and biased,
// at 6 and 15 kHz, and under 19 and 20 kHz together with their difference and the lines
// beside them.
func TestPeriodicLoop(t *testing.T) {
	const peak = 0.5
	for _, bias := range []float64{0, 1.2, 1.3} {
		loop := handLoop{pair: handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: bias}, gain: 20000, bandwidth: 1e6, closed: 20, ohms: 8}
		for _, hertz := range []float64{6007, 15013} {
			loop.hold(t, pure(hertz, peak), 1, 3, 5, 7)
		}
		if bias == 1.2 {
			two := Signal{Period: 1e-3, Peak: peak, Longest: 1 / 120e3, At: func(at float64) float64 {
				return peak / 2 * (math.Cos(2*math.Pi*19e3*at) + math.Cos(2*math.Pi*20e3*at))
			}}
			loop.hold(t, two, 20, 19, 1, 18, 21)
		}
	}
}

func decibels(z complex128) float64 { return 20 * math.Log10(cmplx.Abs(z)) }

// handLoop is the loop by hand.
type handLoop struct {
	pair                          handPair
	gain, bandwidth, closed, ohms float64
}

// hold compares lines, of which the first is the size that errors are taken re: a
// bar of 0.1 dB at -110 dB is -149 dB.
func (l handLoop) hold(t *testing.T, signal Signal, orders ...int) {
	t.Helper()
	s, in, out := feedbackPair(l.pair, l.gain, l.bandwidth, l.closed, l.ohms)
	got, want := settledAt(t, s, in, out, signal, orders...), l.lines(signal, orders)
	for i := range want {
		t.Logf("bias %g V, %.0f Hz, order %d: %.2f dB, out by %.1f dB", l.pair.bias, 1/signal.Period, orders[i],
			decibels(want[i]/want[0]), decibels((got[i]-want[i])/want[0]))
	}
	closeLines(t, "loop", got, want, cmplx.Abs(want[0]), math.Pow(10, -149.0/20))
}

// lines integrates until the loop has settled, and then over a period the output
// times each line's phasor.
func (l handLoop) lines(signal Signal, orders []int) []complex128 {
	const settling = 0.15e-3 // some thirty time constants of the loop
	rate := 2 * math.Pi * l.bandwidth
	w := 2 * math.Pi / signal.Period
	load := func(out float64) float64 { return out/l.ohms + out/(l.closed*1e3) }
	n := 1 + 2*len(orders)
	scale := make([]float64, n)
	scale[0] = signal.Peak * l.closed
	for i := 1; i < n; i++ {
		scale[i] = scale[0] * signal.Period
	}
	states := integrate(func(at float64, y, dy []float64) {
		out := l.pair.output(y[0], load)
		dy[0] = rate*(signal.At(at)-out/l.closed) - rate/l.gain*y[0]
		for i, k := range orders {
			sin, cos := math.Sincos(float64(k) * w * at)
			dy[1+2*i], dy[2+2*i] = out*cos, -out*sin
		}
	}, make([]float64, n), scale, []float64{settling, settling + signal.Period}, 1e-12)
	lines := make([]complex128, len(orders))
	for i := range orders {
		lines[i] = complex(states[1][1+2*i]-states[0][1+2*i], states[1][2+2*i]-states[0][2+2*i]) * complex(2/signal.Period, 0)
	}
	return lines
}

// TestPeriodicUncertainty holds what is said of the mesh's error to solutions with a
// tolerance 300 times finer.
func TestPeriodicUncertainty(t *testing.T) {
	orders := []int{1, 3, 9, 27, 81, 243}
	for _, bias := range []float64{0, 1.2, 1.3} {
		p := handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: bias}
		s, in, out := feedbackPair(p, 20000, 1e6, 20, 8)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		var cycles [2]*Cycle
		for i, tolerance := range []float64{finely, finely / 300} {
			search := s.Periodic(in, out)
			search.tolerance = tolerance
			var err error
			if cycles[i], err = search.Solve(pure(1000, 0.7)); err != nil {
				t.Fatal(err)
			}
		}
		usual, fine := cycles[0].Lines(orders), cycles[1].Lines(orders)
		size := cmplx.Abs(fine[0])
		for i := range orders {
			e := cmplx.Abs(usual[i] - fine[i])
			t.Logf("bias %g V, order %d: out by %.1f dB, said %.1f dB; %d and %d steps", bias, orders[i],
				20*math.Log10(e/size), 20*math.Log10(cycles[0].Doubt()/size), cycles[0].Steps(), cycles[1].Steps())
			if e > 10*cycles[0].Doubt()+1e-11*size {
				t.Errorf("bias %g V, order %d: out by %g V, said %g V", bias, orders[i], e, cycles[0].Doubt())
			}
		}
	}
}
