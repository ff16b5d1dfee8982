package stage

import (
	"math"
	"testing"

	"quietcross/dsp/bracket"
	"quietcross/stage/circuits"
)

// sharpPair is a complementary pair of nearly perfect devices between rails of
// volts: an exponential twenty times steeper than silicon, no emitter resistors,
// so that the textbooks' neglect of its voltages holds. It goes around New,
// which would refuse such an emission coefficient.
func sharpPair(t *testing.T, volts, load float64) *Stage {
	t.Helper()
	s := mustStage(t, "pair-60w", ideal)
	s.spec.Supply.Positive, s.spec.Supply.Negative = volts, volts
	s.spec.Load.Ohms, s.spec.Emitter.Ohms = load, 0
	for _, q := range []*circuits.Transistor{&s.spec.Upper, &s.spec.Lower} {
		q.Emission, q.BaseOhms = 0.05, 1e-3
	}
	return s
}

// classB biases a sharp pair just so that a thousandth of the full current flows
// at rest.
func classB(t *testing.T, volts, load float64) *Biased {
	t.Helper()
	return mustSet(t, sharpPair(t, volts, load), Held(1e-3*volts/load))
}

// powerAt returns the powers at the input that gives an output peak.
func powerAt(t *testing.T, b *Biased, output float64) Power {
	t.Helper()
	in, err := bracket.Root(func(in float64) (float64, error) {
		out, _, err := b.Transfer(in)
		return out - output, err
	}, 0, output+1, 0)
	if err != nil {
		t.Fatal(err)
	}
	p, err := b.Power(in)
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "output peak", p.Output, output, 1e-4)
	return p
}

const powerBar = 0.005

// TestClassBPower checks class-B powers: Boylestad and Nashelsky, Power Amplifiers
// (30 V, 16 ohm, full swing: 28.125 W out, 35.81 W in, 78.54 percent, 5.7 W maximum
// dissipation of a device; 24 V: 72 percent at 22 V peak, 19.635 percent at 6 V), and
// Sedra and Smith's design (8 ohm, 23 V rails: 20 W at 17.889 V peak, 2.236 A, 16.37
// W a rail, 61.1 percent, 6.70 W maximum dissipation of a device; inputs from
// memory, answers computed).
func TestClassBPower(t *testing.T) {
	b := classB(t, 30, 16)
	full := powerAt(t, b, 29.99)
	relative(t, "output", full.Load, 28.125, powerBar)
	relative(t, "supply", full.Supply, 35.81, powerBar)
	relative(t, "efficiency", full.Efficiency, 0.7854, powerBar)
	worst := powerAt(t, b, 2/math.Pi*30)
	relative(t, "maximum dissipation", worst.Devices[0].Mean, 5.7, powerBar)

	b = classB(t, 24, 8)
	relative(t, "22 V", powerAt(t, b, 22).Efficiency, 0.72, powerBar)
	relative(t, "6 V", powerAt(t, b, 6).Efficiency, 0.19635, powerBar)

	b = classB(t, 23, 8)
	design := powerAt(t, b, 17.889)
	relative(t, "design output", design.Load, 20, powerBar)
	relative(t, "design peak current", design.Devices[0].Current, 2.236, powerBar)
	relative(t, "design supply", design.Supply, 2*16.37, powerBar)
	relative(t, "design efficiency", design.Efficiency, 0.611, powerBar)
	worst = powerAt(t, b, 2/math.Pi*23)
	relative(t, "design dissipation", worst.Devices[1].Mean, 6.70, powerBar)
}

// TestMaximumDissipation finds where both devices of a class-B pair together
// dissipate most and checks place and value (Sedra and Smith,
// Microelectronic Circuits, class B power dissipation), Vp = 2 VCC/pi and
// 2 VCC^2/(pi^2 RL).
func TestMaximumDissipation(t *testing.T) {
	const volts, load = 30.0, 16.0
	b := classB(t, volts, load)
	best, at := 0.0, 0.0
	for peak := 15.0; peak < 24; peak += 0.1 {
		p, err := b.Power(peak)
		if err != nil {
			t.Fatal(err)
		}
		if d := p.Dissipation(); d > best {
			best, at = d, p.Output
		}
	}
	relative(t, "dissipation", best, 2*volts*volts/(math.Pi*math.Pi*load), powerBar)
	relative(t, "peak", at, 2*volts/math.Pi, 0.01)
}

// TestSmallClassB checks Gray and Meyer's class-B output stage, 12 V rails, 1 kilohm,
// 0.2 V saturation voltage: 69.62 mW, 77.23 percent (computed from its equations).
func TestSmallClassB(t *testing.T) {
	p := powerAt(t, classB(t, 12, 1e3), 11.8)
	relative(t, "output", p.Load, 69.62e-3, powerBar)
	relative(t, "efficiency", p.Efficiency, 0.7723, powerBar)
}

// TestClasses checks the class and conduction angle of a pair from silence to
// class A. Angles are by definition half a cycle in class B and the whole in A; a
// dead band of half width d leaves pi - 2 asin(d/peak).
func TestClasses(t *testing.T) {
	s := sharpPair(t, 30, 16)
	for _, row := range []struct {
		setting Setting
		peak    float64
		class   Class
	}{
		{Bias(0), 0.01, Silent},
		{Bias(0), 0.1, UnderBiased},
		{Held(2e-3), 20, ClassB},
		{Held(0.05), 15, ClassAB},
		{Held(0.3), 1, ClassA},
	} {
		p, err := mustSet(t, s, row.setting).Power(row.peak)
		if err != nil {
			t.Fatal(err)
		}
		if p.Class != row.class {
			t.Errorf("%v at %g V peak: class %s, want %s; %+v", row.setting, row.peak, p.Class, row.class, p.Devices)
		}
	}
	b := mustSet(t, mustStage(t, "pair-12w", ideal), Bias(0))
	p, err := b.Power(3)
	if err != nil {
		t.Fatal(err)
	}
	c, err := b.Crossover()
	if err != nil {
		t.Fatal(err)
	}
	want := math.Pi - 2*math.Asin(c.DeadZone/2/3)
	if got := p.Devices[0].Conduction; math.Abs(got-want) > 0.05 {
		t.Errorf("conduction angle %.4f, dead band gives %.4f", got, want)
	}
}

// TestPowerBalances checks that resistors are left with what they take, for the
// as-built stages at drive.
func TestPowerBalances(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		b := mustSet(t, s, AsBuilt())
		p, err := b.Power(b.Drive())
		if err != nil {
			t.Fatal(err)
		}
		if p.Others() < 0 || p.Efficiency <= 0 || p.Efficiency > math.Pi/4 {
			t.Errorf("%s: %+v, others %g W", named.Name, p, p.Others())
		}
	}
}

// TestTransformerClassA checks the transformer-coupled class-A stage (Boylestad and
// Nashelsky, form from memory): with 10 V at the collector, peaks of 10, 5 and 1 V give 50, 12.5
// and 0.5 percent. The device is a sharp one in the single-transistor circuit, its
// windings nearly free of resistance, its bias such that the collector current
// just reaches zero at the maximum peak.
func TestTransformerClassA(t *testing.T) {
	const volts, load = 10.0, 8.0
	for _, row := range []struct{ peak, efficiency float64 }{{10, 0.5}, {5, 0.125}, {1, 0.005}} {
		s := mustStage(t, "single-class-a", func(s *Spec) { ideal(s) })
		spec := &s.spec
		spec.Upper.Emission, spec.Upper.BaseOhms = 0.02, 1e-3
		spec.Supply.Positive, spec.Load.Ohms, spec.Emitter.Ohms = volts, load, 0
		spec.Output.Ratio, spec.Output.PrimaryOhms, spec.Output.SecondaryOhms = 1, 1e-3, 1e-3
		// Driven by a current, a device of constant gain is linear.
		spec.Upper.ForwardGain, spec.Source.Ohms = 100, 1e3
		b := mustSet(t, s, Held(volts/load))
		p := powerAt(t, b, math.Min(row.peak, 0.9985*volts))
		relative(t, "efficiency", p.Efficiency, row.efficiency, powerBar)
	}
}

// TestInstantsMakeThePower checks that instants, weighed evenly over a cycle, add
// up to the power of the sine.
func TestInstantsMakeThePower(t *testing.T) {
	b := mustSet(t, mustStage(t, "pair-60w", nil), AsBuilt())
	want, err := b.Power(20)
	if err != nil {
		t.Fatal(err)
	}
	const count = 720
	var supply, load, upper float64
	for i := range count {
		p, err := b.Instant(20 * math.Sin(2*math.Pi*(float64(i)+0.25)/count))
		if err != nil {
			t.Fatal(err)
		}
		supply += p.Supply / count
		load += p.Load / count
		upper += p.Devices[0].Mean / count
	}
	relative(t, "supply", supply, want.Supply, 1e-5)
	relative(t, "load", load, want.Load, 1e-5)
	relative(t, "upper", upper, want.Devices[0].Mean, 1e-5)
}
