package circuits

import (
	"math"
	"strings"
	"testing"

	"quietcross/stage/device"
	"quietcross/stage/network"
)

// near fails unless got is within a relative tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.6g, want %.6g within %.1g", what, got, want, tolerance)
	}
}

// TestKindsAreWhole checks what every kind must bring: a name of its own, groups and
// keys without repetition, ranges in order, and defaults that are legal.
func TestKindsAreWhole(t *testing.T) {
	names := map[string]bool{}
	for _, k := range Kinds() {
		if names[k.Name] || k.Name == "" || k.Title == "" {
			t.Errorf("kind %q has no name of its own, or no title", k.Name)
		}
		names[k.Name] = true
		if again, err := Lookup(k.Name); err != nil || again != k {
			t.Errorf("%s is not found: %v", k.Name, err)
		}
		p := Defaults()
		keys := map[string]bool{}
		for _, g := range k.Groups(&p) {
			for _, f := range g.Fields {
				checkField(t, k.Name+": "+g.Name+"."+f.Key, f, keys)
			}
		}
	}
	if _, err := Lookup("bridge"); err == nil || !strings.Contains(err.Error(), "complementary-follower") {
		t.Errorf("an unknown name gives %v", err)
	}
}

func checkField(t *testing.T, name string, f Field, keys map[string]bool) {
	t.Helper()
	if keys[name] || f.Doc == "" || !(f.Range.Min < f.Range.Max) {
		t.Errorf("%s is there twice, has no doc or no range", name)
	}
	keys[name] = true
	if v, ok := f.Value.(*float64); ok && f.Optional {
		if err := f.Range.Check(*v); err != nil {
			t.Errorf("%s: its default is not legal: %v", name, err)
		}
	}
}

// quiet is a transistor without resistances or second-order effects.
func quiet(saturation, gain float64) Transistor {
	return Transistor{
		Saturation: saturation, Emission: 1, ForwardGain: gain, ReverseGain: 5, BaseOhms: 1e-3,
		LeakageEmission: 2, Exponent: 3, Gap: 1.11,
	}
}

// onRails are parts for any kind on two rails.
func onRails() Parts {
	p := Defaults()
	p.Supply = Supply{Positive: 20, Negative: 20}
	p.Load.Ohms = 8
	p.Emitter.Ohms = 0.33
	p.Bias = Bias{FeedUpper: 1e3, FeedLower: 1e3, Diodes: 2}
	p.Diode.Saturation = 1e-13
	p.Upper, p.Lower = quiet(1e-13, 100), quiet(1e-13, 100)
	p.Drivers.Upper, p.Drivers.Lower, p.Drivers.Ohms = quiet(1e-14, 100), quiet(1e-14, 100), 1e6
	p.Coupling = Coupling{Input: 1e-4, Output: 1e-3}
	return p
}

func solved(t *testing.T, n *Network) *network.Solver {
	t.Helper()
	s := n.Circuit.Compile()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	return s
}

// TestMultiplierVoltage checks the VBE multiplier's voltage, VBE (1 + top/bottom)
// plus the base current's drop across the top resistor (Sedra and
// Smith, Microelectronic Circuits, biasing by the VBE multiplier).
func TestMultiplierVoltage(t *testing.T) {
	p := onRails()
	p.Multiplier = Multiplier{Top: 1e3, Bottom: 1e3, Device: quiet(1e-14, 200)}
	n := buildComplementaryMultiplier(&p, false, Uniform(room))
	s := solved(t, n)
	var q network.Operation
	for _, d := range s.Devices() {
		if d.Name == "multiplier" {
			q = d
		}
	}
	near(t, "bias", n.BiasVolts(s), q.Control*2+q.ControlCurrent*1e3, 1e-9)
}

// TestDarlingtonGain checks that a double follower's input takes the load current
// over the product of (gain + 1) (Sedra and Smith, Microelectronic Circuits, compound
// devices), with its base resistor out of the way.
func TestDarlingtonGain(t *testing.T) {
	p := onRails()
	n := buildDarlingtonFollower(&p, true, Uniform(room))
	s := n.Circuit.Compile()
	n.SetBias(s, 2.2)
	s.Set(n.In, 12)
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	load := s.Voltage(n.Out) / p.Load.Ohms
	near(t, "input current", s.Current(n.In), load/(101*101), 2e-3)
}

// TestFeedbackPairResistance checks that the two-device loop's output resistance is
// its own junction's, re/(1 + gain of the output device's base current), far under that of
// a follower at the same current: with a driver at collector current i and an output
// device of gain b, VT/(i (1 + b)) as long as the base-emitter resistor takes nothing:
// the resistance of an emitter over one and the gain of the loop around it (Gray and
// Meyer, Analysis and Design of Analog Integrated Circuits, series-shunt feedback).
func TestFeedbackPairResistance(t *testing.T) {
	p := onRails()
	p.Emitter.Ohms = 0
	p.Load.Ohms = 1e3
	n := buildComplementaryFeedbackPair(&p, true, Uniform(room))
	s := n.Circuit.Compile()
	n.SetBias(s, 0)
	s.Set(n.In, 10)
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	driver := s.Device(2)
	if driver.Name != "upper driver" {
		t.Fatalf("device 2 is %s", driver.Name)
	}
	gain := s.Derivative(n.Out, n.In)
	vt := device.ThermalVoltage(room)
	load := s.Voltage(n.Out) / p.Load.Ohms
	near(t, "output resistance", p.Load.Ohms*(1/gain-1), vt/load, 0.02)
	near(t, "driver's current", driver.Current, load/101, 0.05)
}

// TestOddDiode checks where an odd bias diode is: below the tap, so that the upper
// base is the tap itself.
func TestOddDiode(t *testing.T) {
	p := onRails()
	p.Bias.Diodes = 1
	n := buildComplementaryFollower(&p, false, Uniform(room))
	s := solved(t, n)
	if v := s.Voltage(n.BiasPlus); v != 0 {
		t.Errorf("the upper base is at %g V", v)
	}
	if v := s.Voltage(n.BiasMinus); v > -0.4 || v < -0.9 {
		t.Errorf("the lower base is at %g V", v)
	}
}

// TestLoneResistorStarves checks what the transformer push-pull's page says: with one
// resistor from the supply the bases share its current, so that drive cannot
// raise the sum of the base currents, while a bypassed divider's can.
func TestLoneResistorStarves(t *testing.T) {
	sum := func(bypass float64) (rest, driven float64) {
		p := onRails()
		p.Supply.Positive = 12
		p.Input = Transformer{Ratio: 1, PrimaryOhms: 1, SecondaryOhms: 1, Magnetising: 1}
		p.Output = Transformer{Ratio: 1, PrimaryOhms: 0.1, SecondaryOhms: 0.1, Magnetising: 1}
		p.Tap = TapBias{Upper: 10e3, Bypass: bypass}
		n := buildTransformerPushPull(&p, false, Uniform(room))
		s := solved(t, n)
		rest = s.Device(0).ControlCurrent + s.Device(1).ControlCurrent
		m := s.Midband()
		m.Set(n.In, 0.5)
		if err := m.Solve(); err != nil {
			t.Fatal(err)
		}
		return rest, m.Device(0).ControlCurrent + m.Device(1).ControlCurrent
	}
	rest, driven := sum(0)
	if driven > 1.1*rest {
		t.Errorf("with a lone resistor the base currents go from %g to %g A", rest, driven)
	}
	if rest, driven = sum(1e-4); driven < 3*rest {
		t.Errorf("with a bypass the base currents go from %g to %g A", rest, driven)
	}
}

// TestSubthresholdSoftensCrossover checks that the field-effect pair's gain at rest
// rises smoothly with bias, without a step at the threshold as a square law cut off
// there would have.
func TestSubthresholdSoftensCrossover(t *testing.T) {
	p := onRails()
	field := FieldEffect{Threshold: 3, Beta: 4, Slope: 1.6}
	p.UpperFET, p.LowerFET = field, field
	n := buildComplementarySourceFollower(&p, true, Uniform(room))
	s := n.Circuit.Compile()
	at := func(bias float64) float64 {
		n.SetBias(s, bias)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		return s.Derivative(n.Out, n.In)
	}
	if under := at(2*3 - 0.1); under < 0.01 {
		t.Errorf("50 mV under threshold each the gain is %g", under)
	}
	last := 0.0
	for bias := 5.5; bias < 7; bias += 0.01 {
		g := at(bias)
		if g <= last || g-last > 0.05 {
			t.Errorf("bias %g V: gain goes from %g to %g", bias, last, g)
		}
		last = g
	}
}
