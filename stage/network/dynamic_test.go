package network

import (
	"math"
	"testing"

	"quietcross/stage/device"
)

// TestReflectedLoad checks what a load is worth on the other side of a
// transformer (Boylestad and Nashelsky, Electronic Devices and Circuit Theory, transformer
// action): 8 ohm to 5 kilohm wants 25:1, 16:1 makes 4 ohm into 1024.
func TestReflectedLoad(t *testing.T) {
	seen := func(ratio, load float64) float64 {
		c := New()
		in := c.Node("in")
		feed := c.CurrentSource("probe", Ground, in, 0)
		out := c.Node("out")
		c.Add(
			Transformer{Magnetising: 1, Windings: []Winding{{A: in, Turns: ratio}, {A: out, Turns: 1}}},
			Resistor{out, Ground, load},
		)
		rest := c.Compile()
		if err := rest.Solve(); err != nil {
			t.Fatal(err)
		}
		s := rest.Midband()
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		return s.Derivative(in, feed)
	}
	within(t, "25:1 with 8 ohm", seen(25, 8), 5000, 1e-9*5000)
	within(t, "16:1 with 4 ohm", seen(16, 4), 1024, 1e-9*1024)
}

// TestMidbandHolds checks that a coupling capacitor passes a signal and keeps its
// voltage at midband, and blocks at rest; and that an inductor does the converse.
func TestMidbandHolds(t *testing.T) {
	c := New()
	in, source := c.Drive("in", 0)
	rail, _ := c.Drive("rail", 10)
	a, b := c.Node("a"), c.Node("b")
	c.Add(
		Capacitor{A: in, B: a, Farads: 1e-6},
		Resistor{rail, a, 1e3}, Resistor{a, Ground, 1e3},
		Inductor{A: rail, B: b, Henries: 1},
		Resistor{b, Ground, 100}, Resistor{a, b, 1e3},
	)
	rest := c.Compile()
	if err := rest.Solve(); err != nil {
		t.Fatal(err)
	}
	// At rest b is at 10 V and a at (10 + 10 + 0)/3.
	within(t, "a at rest", rest.Voltage(a), 20.0/3, 1e-12)
	held := rest.Held()
	within(t, "capacitor's volts", held[0], -20.0/3, 1e-12)
	within(t, "inductor's amperes", held[1], 0.1+10.0/3e3, 1e-12)
	s := rest.Midband()
	s.Set(source, 2)
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	within(t, "a follows", s.Voltage(a), 20.0/3+2, 1e-12)
	within(t, "b takes a share", s.Voltage(b), 10+2*100.0/1100, 1e-12)
}

// TestLoudspeaker checks the motional elements against the Thiele/Small relations
// (R. H. Small, J. Audio Eng. Soc. 20:383, 1972) for an invented driver: Re 6.4 ohm, fs
// 92 Hz, Qms 4.2, Qes 1.15 give, by a pocket calculator, Res 23.3739 ohm, Cmes 310.849
// uF, Lces 9.62752 mH, Qts 0.902804, maximum impedance 29.7739 ohm. And for one that is
// given by its mechanics, mass M, compliance C, resistance R and force factor Bl, where
// the motional elements are Bl²/R, M/Bl² and C Bl² by the laws of a moving conductor.
func TestLoudspeaker(t *testing.T) {
	law := SpeakerLaw{Ohms: 6.4, Resonance: 92, Qms: 4.2, Qes: 1.15}
	ohms, farads, henries := law.Motional()
	within(t, "Res", ohms, 23.3739, 5e-5)
	within(t, "Cmes", farads*1e6, 310.849, 5e-4)
	within(t, "Lces", henries*1e3, 9.62752, 5e-6)
	total, maximum := law.Qts()
	within(t, "Qts", total, 0.902804, 5e-7)
	within(t, "maximum impedance", maximum, 29.7739, 5e-5)

	const mass, compliance, resistance, force, coil = 11e-3, 0.4e-3, 1.3, 6.0, 5.6 // kg, m/N, N s/m, T m, ohm
	impedance := math.Sqrt(mass / compliance)
	law = SpeakerLaw{
		Ohms: coil, Resonance: 1 / (2 * math.Pi * math.Sqrt(mass*compliance)),
		Qms: impedance / resistance, Qes: impedance * coil / (force * force),
	}
	ohms, farads, henries = law.Motional()
	within(t, "Res by mechanics", ohms, force*force/resistance, 1e-12)
	within(t, "Cmes by mechanics", farads, mass/(force*force), 1e-12)
	within(t, "Lces by mechanics", henries, compliance*force*force, 1e-12)
}

// TestClassAPower checks class A from solved waveforms, within 0.5 percent.
// Series-fed (Boylestad and Nashelsky, Electronic Devices and Circuit Theory, the
// efficiency of series-fed class A, with numbers of our own): 20 V, 12 ohm collector load, full swing about half
// the supply: 16.667 W in, 4.1667 W out, 25 percent. The current source below
// stands for the collector of a perfect device.
func TestClassAPower(t *testing.T) {
	c := New()
	rail, supply := c.Drive("rail", 20)
	collector := c.Node("collector")
	c.Add(Resistor{rail, collector, 12})
	device := c.CurrentSource("collector current", collector, Ground, 0)
	s := c.Compile()
	const samples = 360
	in, signal := 0.0, 0.0
	for i := range samples {
		s.Set(device, 10.0/12*(1+math.Sin(2*math.Pi*(float64(i)+0.5)/samples)))
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		in += 20 * s.Current(supply) / samples
		ac := s.Voltage(collector) - 10
		signal += ac * ac / 12 / samples
	}
	within(t, "supply", in, 16.667, 0.005*16.667)
	within(t, "signal", signal, 4.1667, 0.005*4.1667)
	within(t, "efficiency", signal/in, 0.25, 0.005*0.25)
}

// TestClassAFollower checks the emitter follower on a current source of Gray and
// Meyer, section 5.2 (15 V rails, IQ 2.86 mA; answers computed from its equations):
// RL 2 kilohm 8.180 mW and 9.53 percent, 10 kilohm 10.95 mW and 12.76 percent, best
// load 5.175 kilohm 21.16 mW and 24.67 percent. The saturation voltage of the book is
// 0.2 V; the swing is set to the maximum its equations allow.
func TestClassAFollower(t *testing.T) {
	for _, row := range []struct{ ohms, swing, milliwatts, efficiency float64 }{
		{2e3, 2.86e-3 * 2e3, 8.180, 0.0953},
		{10e3, 14.8, 10.95, 0.1276},
		{5.175e3, 14.8, 21.16, 0.2467},
	} {
		out, in := classAFollower(t, row.ohms, row.swing)
		within(t, "output in mW", out*1e3, row.milliwatts, 0.005*row.milliwatts)
		within(t, "efficiency", out/in, row.efficiency, 0.005*row.efficiency)
	}
}

// classAFollower returns mean load and supply powers of a follower whose output
// swings by the given peak.
func classAFollower(t *testing.T, ohms, swing float64) (out, supply float64) {
	const iq, volts, samples = 2.86e-3, 15.0, 360
	c := New()
	base, in := c.Drive("base", 0)
	high, positive := c.Drive("high", volts)
	low, negative := c.Drive("low", -volts)
	emitter := c.Node("emitter")
	law := device.Transistor{Diode: device.NewDiode(1e-14, 0.001)}
	c.Add(
		&Bipolar{Name: "follower", Collector: high, Base: base, Emitter: emitter, Polarity: NPN, Law: law},
		Resistor{emitter, Ground, ohms},
	)
	c.CurrentSource("sink", emitter, low, iq)
	s := c.Compile()
	for i := range samples {
		// Half a millivolt a decade aside, the emitter is one VBE under the base.
		s.Set(in, 0.0264+swing*0.9999*math.Sin(2*math.Pi*(float64(i)+0.5)/samples))
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		v := s.Voltage(emitter)
		out += v * v / ohms / samples
		supply += volts * (s.Current(positive) - s.Current(negative)) / samples
	}
	return out, supply
}
