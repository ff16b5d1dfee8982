package network

import (
	"math"
	"testing"

	"quietcross/stage/device"
)

// grid returns the times of count steps.
func grid(step float64, count int) []float64 {
	times := make([]float64, count)
	for i := range times {
		times[i] = float64(i+1) * step
	}
	return times
}

// feedbackPair is the ideal pair behind an amplifier.
func feedbackPair(p handPair, gain, bandwidth, closed, ohms float64) (s *Solver, in Source, out Node) {
	c := New()
	input, in := c.Drive("in", 0)
	high, _ := c.Drive("high", 30)
	low, _ := c.Drive("low", -30)
	out = c.Node("out")
	tap, minus := c.Node("tap"), c.Node("minus")
	b1, b2, e1, e2 := c.Node("b1"), c.Node("b2"), c.Node("e1"), c.Node("e2")
	c.VoltageSource("upper bias", b1, tap, p.bias/2)
	c.VoltageSource("lower bias", tap, b2, p.bias/2)
	law := device.Transistor{Diode: device.NewDiode(p.is, p.vt)}
	c.Add(
		Amplifier{Plus: input, Minus: minus, Out: tap, Gain: gain, Bandwidth: bandwidth, Swing: 40},
		Resistor{out, minus, (closed - 1) * 1e3}, Resistor{minus, Ground, 1e3},
		Resistor{e1, out, p.re}, Resistor{e2, out, p.re}, Resistor{out, Ground, ohms},
		&Bipolar{Name: "upper", Collector: high, Base: b1, Emitter: e1, Polarity: NPN, Law: law},
		&Bipolar{Name: "lower", Collector: low, Base: b2, Emitter: e2, Polarity: PNP, Law: law},
	)
	return c.Compile(), in, out
}

// TestCouplingCapacitorInTime holds an emitter follower behind a coupling
// capacitor, overdriven so that its base rectifies, to its own equation: the
// capacitor's current is what base and bias resistor leave.
func TestCouplingCapacitorInTime(t *testing.T) {
	const rs, farads, feed, volts, re, is, vt, beta = 470.0, 1e-6, 100e3, 12.0, 100.0, 1e-14, 0.025852, 80.0
	signal := sine(4, 1000)
	// base solves for the base voltage at a source voltage behind rs.
	base := func(source float64) float64 {
		p := handPair{is: is / beta, vt: vt, re: re * (beta + 1)}
		lo, hi := -20.0, 20.0
		for range 100 {
			v := (lo + hi) / 2
			if (source-v)/rs+(volts-v)/feed > p.branch(v) {
				lo = v
			} else {
				hi = v
			}
		}
		return lo
	}
	rest := restingBase(volts, feed, re, is, vt, beta)
	const step = 1.0 / 48000 / 16
	count := int(8e-3 / step)
	states := integrate(func(at float64, y, dy []float64) {
		source := signal(at) - y[0]
		dy[0] = (source - base(source)) / rs / farads
	}, []float64{-rest}, []float64{1}, grid(step, count), 1e-10)
	want := make([]float64, count)
	for i, y := range states {
		want[i] = base(signal(float64(i+1)*step) - y[0])
	}

	c := New()
	input, in := c.Drive("in", 0)
	rail, _ := c.Drive("rail", volts)
	a, b, e := c.Node("a"), c.Node("b"), c.Node("e")
	law := device.Bipolar{
		Saturation: is, Emission: vt / device.ThermalVoltage(device.RoomKelvin), ForwardGain: beta,
		Reference: device.RoomKelvin,
	}.At(device.RoomKelvin)
	c.Add(
		Resistor{input, a, rs}, Capacitor{A: a, B: b, Farads: farads}, Resistor{rail, b, feed},
		&Bipolar{Name: "q", Collector: rail, Base: b, Emitter: e, Polarity: NPN, Law: law}, Resistor{e, Ground, re},
	)
	got, steps := run(t, c.Compile(), in, b, signal, step, count)
	err := worstError(got, want)
	t.Logf("error %.1f dB, %+v; the capacitor went from %.3f to %.3f V", err, steps, rest, -states[count-1][0])
	if err > -100 {
		t.Errorf("error %.1f dB", err)
	}
}

// restingBase is the base voltage at rest: the feed alone carries the base current.
func restingBase(volts, feed, re, is, vt, beta float64) float64 {
	p := handPair{is: is / beta, vt: vt, re: re * (beta + 1)}
	lo, hi := 0.0, volts
	for range 100 {
		v := (lo + hi) / 2
		if (volts-v)/feed > p.branch(v) {
			lo = v
		} else {
			hi = v
		}
	}
	return lo
}

// TestMagnetisingInductanceInTime holds a class-B transistor with an output
// transformer to its own equation: the magnetising current takes what the
// reflected load does not, L di/dt = R (ic - i).
func TestMagnetisingInductanceInTime(t *testing.T) {
	const henries, ratio, ohms, re, is, vt, bias = 50e-3, 3.0, 8.0, 2.0, 1e-14, 0.025852, 0.65
	signal := sine(0.5, 1000)
	p := handPair{is: is, vt: vt, re: re}
	collector := func(at float64) float64 { return p.branch(bias + signal(at)) }
	const reflected = ratio * ratio * ohms
	const step = 1.0 / 48000 / 16
	count := int(10e-3 / step)
	states := integrate(func(at float64, y, dy []float64) {
		dy[0] = reflected / henries * (collector(at) - y[0])
	}, []float64{collector(0)}, []float64{1}, grid(step, count), 1e-11)
	want := make([]float64, count)
	for i, y := range states {
		want[i] = reflected * (collector(float64(i+1)*step) - y[0]) / ratio
	}

	c := New()
	base, in := c.Drive("base", bias)
	rail, _ := c.Drive("rail", 40)
	k, e, out := c.Node("k"), c.Node("e"), c.Node("out")
	law := device.Transistor{Diode: device.NewDiode(is, vt)}
	c.Add(
		&Bipolar{Name: "q", Collector: k, Base: base, Emitter: e, Polarity: NPN, Law: law}, Resistor{e, Ground, re},
		Transformer{Magnetising: henries, Windings: []Winding{{A: rail, B: k, Turns: ratio}, {A: out, Turns: 1}}},
		Resistor{out, Ground, ohms},
	)
	biased := func(at float64) float64 { return bias + signal(at) }
	got, steps := run(t, c.Compile(), in, out, biased, step, count)
	err := worstError(got, want)
	t.Logf("error %.1f dB, %+v", err, steps)
	if err > -100 {
		t.Errorf("error %.1f dB", err)
	}
}

// TestTransitionFrequency checks the charges of a transistor by its high-frequency
// current gain (Gray and Meyer, Analysis and Design of Analog Integrated Circuits, 1.4.8,
// section from memory): |gain| = fT/f, with 1/(2 pi fT) = τF + (CBE + CBC) VT/IC, far over the frequency where the gain falls.
func TestTransitionFrequency(t *testing.T) {
	const ib, tf, cbe, cbc, hertz = 100e-6, 2e-9, 50e-12, 10e-12, 10e6
	law := device.Bipolar{Saturation: 1e-14, Emission: 1, ForwardGain: 100, ReverseGain: 5, Reference: device.RoomKelvin}
	for _, polarity := range []Polarity{NPN, PNP} {
		c := New()
		rail, supply := c.Drive("rail", 10*float64(polarity))
		b := c.Node("b")
		feed := c.CurrentSource("feed", Ground, b, ib*float64(polarity))
		c.Add(&Bipolar{
			Name: "q", Collector: rail, Base: b, Polarity: polarity, Law: law.At(device.RoomKelvin),
			TransitTime: tf, BaseEmitterFarads: cbe, BaseCollectorFarads: cbc,
		})
		s := c.Compile()
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		ic := s.Current(supply) * float64(polarity)
		const perCycle, cycles = 400, 40
		tr := s.Transient(1 / (hertz * perCycle))
		var re, im float64
		for i := range perCycle * cycles {
			phase := 2 * math.Pi * float64(i+1) / perCycle
			tr.Set(feed, ib*float64(polarity)*(1+0.1*math.Sin(phase)))
			if err := tr.Step(); err != nil {
				t.Fatal(err)
			}
			if i >= perCycle*(cycles-1) {
				re += tr.Solver().Current(supply) * math.Sin(phase) * 2 / perCycle
				im += tr.Solver().Current(supply) * math.Cos(phase) * 2 / perCycle
			}
		}
		tau := tf + (cbe+cbc)*device.ThermalVoltage(device.RoomKelvin)/ic
		within(t, "gain", math.Hypot(re, im)/(0.1*ib), 1/(2*math.Pi*hertz*tau), 0.01/(2*math.Pi*hertz*tau))
	}
}

// TestSaturatingCoreInTime holds a core driven into saturation through a resistor to
// its own equations: flux is the integral of the winding's voltage, df/dt = vi - R i,
// i = f/L (1 + (f/fs)^8).
func TestSaturatingCoreInTime(t *testing.T) {
	const ohms, henries, limit = 20.0, 0.5, 0.02
	signal := sine(16, 100)
	const step = 1.0 / 48000 / 8
	count := int(30e-3 / step)
	current := func(f float64) float64 { return f / henries * (1 + math.Pow(f/limit, 8)) }
	states := integrate(func(at float64, y, dy []float64) {
		dy[0] = signal(at) - ohms*current(y[0])
	}, []float64{0}, []float64{limit}, grid(step, count), 1e-11)
	want := make([]float64, count)
	deepest := 0.0
	for i, y := range states {
		want[i] = signal(float64(i+1)*step) - ohms*current(y[0])
		deepest = max(deepest, math.Abs(y[0])/limit)
	}
	if deepest < 1.1 {
		t.Errorf("the core reaches only %.2f of its limit", deepest)
	}

	c := New()
	input, in := c.Drive("in", 0)
	out := c.Node("out")
	c.Add(Resistor{input, out, ohms}, Transformer{
		Magnetising: henries, Saturation: limit, Windings: []Winding{{A: out, Turns: 1}},
	})
	got, steps := run(t, c.Compile(), in, out, signal, step, count)
	err := worstError(got, want)
	t.Logf("error %.1f dB, %+v, %.2f of the limit", err, steps, deepest)
	if err > -100 {
		t.Errorf("error %.1f dB", err)
	}
}

// TestSaturatedCoreHoldsDirectCurrent checks that a winding with direct current
// settles at rest where its core's law gives that current, and holds it at midband
// with the reduced inductance out of the way.
func TestSaturatedCoreHoldsDirectCurrent(t *testing.T) {
	c := New()
	rail, _ := c.Drive("rail", 10)
	a, out := c.Node("a"), c.Node("out")
	probe := c.CurrentSource("signal", Ground, a, 0)
	c.Add(
		Transformer{Magnetising: 0.5, Saturation: 0.02, Windings: []Winding{{A: rail, B: a, Turns: 2}, {A: out, Turns: 1}}},
		Resistor{a, Ground, 50}, Resistor{out, Ground, 8},
	)
	rest := c.Compile()
	if err := rest.Solve(); err != nil {
		t.Fatal(err)
	}
	law := coreLaw{0.5, 0.02}
	i, _ := law.current(rest.Held()[0])
	within(t, "magnetising current", i, 10.0/50, 1e-9)
	s := rest.Midband()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	within(t, "resistance at midband", s.Derivative(a, probe), 1/(1.0/50+1.0/32), 1e-9)
}
