package circuits

import (
	"fmt"
	"math"
	"testing"

	"quietcross/stage/device"
	"quietcross/stage/network"
)

// driverBeforeGates are a driver before the field-effect pair, whose gates take
// nothing, so that the feeds are all of the driver's load.
func driverBeforeGates() Parts {
	p := onRails()
	field := FieldEffect{Threshold: 3, Beta: 4, Slope: 1.6}
	p.UpperFET, p.LowerFET = field, field
	p.Bias.FeedUpper, p.Bias.FeedLower = 3e3, 6e3
	p.Source.Ohms = 500
	p.Driver = Driver{
		Fitted: true, DividerUpper: 47e3, DividerLower: 5.6e3, Emitter: 330, Degeneration: 22, Bypass: 1e-3,
		Input: 1e-5, Collector: 1.8e3, Output: 1e-4, Device: quiet(1e-14, 100),
	}
	return p
}

// midband returns a network's solver with capacitors as at rest, and its driver.
func midband(t *testing.T, n *Network, bias float64) (*network.Solver, network.Operation) {
	t.Helper()
	s := n.Circuit.Compile()
	n.SetBias(s, bias)
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	m := s.Midband()
	if err := m.Solve(); err != nil {
		t.Fatal(err)
	}
	return m, driverOf(t, m)
}

func driverOf(t *testing.T, s *network.Solver) network.Operation {
	t.Helper()
	for _, d := range s.Devices() {
		if d.Name == "driver" {
			return d
		}
	}
	t.Fatal("no driver")
	return network.Operation{}
}

func parallel(ohms ...float64) float64 {
	sum := 0.0
	for _, r := range ohms {
		sum += 1 / r
	}
	return 1 / sum
}

// TestDriverGain checks the midband gain of a common-emitter stage, -a RL'/(re + RE)
// with a = b/(b + 1) and RE what no capacitor bypasses, behind the division of the
// source by the input resistance, divider || (b + 1)(re + RE) (Sedra and
// Smith, Microelectronic Circuits, common-emitter amplifier).
func TestDriverGain(t *testing.T) {
	for _, row := range []struct {
		name   string
		change func(*Driver)
		re     float64 // unbypassed
	}{
		{"part bypassed", func(*Driver) {}, 22},
		{"all bypassed", func(d *Driver) { d.Degeneration = 0 }, 0},
		{"unbypassed", func(d *Driver) { d.Bypass = 0 }, 352},
	} {
		p := driverBeforeGates()
		row.change(&p.Driver)
		n := mustKind("complementary-source-follower").Build(&p, true, Uniform(room))
		s, q := midband(t, n, 6)
		c := n.Circuit
		re := device.ThermalVoltage(room)/(q.Current+q.ControlCurrent) + row.re
		input := parallel(p.Driver.DividerUpper, p.Driver.DividerLower, 101*re)
		load := parallel(p.Driver.Collector, p.Bias.FeedUpper, p.Bias.FeedLower)
		divided := input / (input + p.Source.Ohms)
		near(t, row.name+": at the base", s.Derivative(c.Node("driver base"), n.In), divided, 1e-5)
		near(t, row.name+": at the collector", s.Derivative(c.Node("driver collector"), n.In), -100.0/101*load/re*divided, 1e-5)
		near(t, row.name+": at the tap", s.Derivative(c.Node("tap"), n.In), s.Derivative(c.Node("driver collector"), n.In), 1e-9)
	}
}

// TestDriverBias checks the driver's emitter current against its divider's: the
// open voltage less the junction's, over the emitter resistors and the divider's
// resistance / (b + 1) (Boylestad and Nashelsky, Electronic Devices and Circuit Theory,
// voltage-divider bias).
func TestDriverBias(t *testing.T) {
	p := driverBeforeGates()
	n := mustKind("complementary-source-follower").Build(&p, true, Uniform(room))
	_, q := midband(t, n, 6)
	volts, ohms := 40*5.6/(47+5.6), parallel(47e3, 5.6e3)
	near(t, "emitter current", q.Current+q.ControlCurrent, (volts-q.Control)/(352+ohms/101), 1e-6)
	near(t, "estimate", p.Driver.rest(40), q.Current, 0.05)
}

// TestDriverSwing checks the driver's swing limits, which nothing but its transistor
// makes: toward cut-off its direct current in the load, IC RL' (Boylestad and Nashelsky, Electronic Devices and
// Circuit Theory, load line), and the
// other way what the collector-emitter voltage leaves above saturation, about 0.1 V
// (common practice), shared by the load and the unbypassed emitter resistor.
func TestDriverSwing(t *testing.T) {
	p := driverBeforeGates()
	n := mustKind("complementary-source-follower").Build(&p, true, Uniform(room))
	s, q := midband(t, n, 6)
	tap := n.Circuit.Node("tap")
	rest := s.Voltage(tap)
	highest, lowest := 0.0, 0.0
	for _, side := range []float64{-1, 1} {
		for i := range 400 {
			s.Set(n.In, side*6*float64(i)/400)
			if err := s.Solve(); err != nil {
				t.Fatal(err)
			}
			v := s.Voltage(tap) - rest
			highest, lowest = max(highest, v), min(lowest, v)
		}
	}
	load := parallel(p.Driver.Collector, p.Bias.FeedUpper, p.Bias.FeedLower)
	near(t, "toward cut-off", highest, q.Current*load, 0.005)
	near(t, "toward saturation", lowest, -(q.Main-0.1)*load/(load+p.Driver.Degeneration), 0.02)
}

// following finds, for each volts that a node is to have, the input that gives them,
// and returns the driver there.
func following(t *testing.T, s *network.Solver, in network.Source, node network.Node, from, to float64, volts []float64) []network.Operation {
	t.Helper()
	list := make([]network.Operation, 0, len(volts))
	for _, want := range volts {
		lo, hi := from, to // the node's voltage falls between them
		for range 60 {
			middle := (lo + hi) / 2
			s.Set(in, middle)
			if err := s.Solve(); err != nil {
				t.Fatal(err)
			}
			if s.Voltage(node) > want {
				lo = middle
			} else {
				hi = middle
			}
		}
		near(t, "voltage followed", s.Voltage(node), want, 1e-6)
		list = append(list, driverOf(t, s))
	}
	return list
}

// sineAbout returns a cycle of a sine about a middle.
func sineAbout(middle, peak float64) []float64 {
	volts := make([]float64, 48)
	for i := range volts {
		volts[i] = middle + peak*math.Sin(2*math.Pi*(float64(i)+0.5)/float64(len(volts)))
	}
	return volts
}

// efficiency is the power of a sine in a resistance over what the collector draws.
func efficiency(list []network.Operation, supply, peak, ohms float64) float64 {
	mean := 0.0
	for _, q := range list {
		mean += q.Current / float64(len(list))
	}
	return peak * peak / 2 / ohms / (supply * mean)
}

// TestSeriesFedEfficiency drives the driver so that its collector makes a sine over
// nearly the whole supply: of what it draws at most 25 % becomes signal in its
// collector resistor (Gray and Meyer, Analysis and Design of Analog Integrated
// Circuits, class A output stages), less what saturation, emitter and the square of
// the swing given up take.
func TestSeriesFedEfficiency(t *testing.T) {
	p := driverBeforeGates()
	p.Supply = Supply{Positive: 40, Negative: 10}
	p.Bias.FeedUpper, p.Bias.FeedLower = 1e7, 1e7
	p.Driver = Driver{
		Fitted: true, DividerUpper: 50e3, DividerLower: 873, Emitter: 5, Bypass: 1, Input: 1,
		Collector: 1e3, Output: 1e-4, Device: quiet(1e-14, 1e4),
	}
	p.Source.Ohms = 0
	n := mustKind("complementary-source-follower").Build(&p, true, Uniform(room))
	s, q := midband(t, n, 6)
	total := p.Supply.total()
	collector := n.Circuit.Node("driver collector")
	rest := s.Voltage(collector)
	if math.Abs(rest+p.Supply.Negative-total/2) > 2 {
		t.Fatalf("the collector rests at %g V", rest)
	}
	peak := min(q.Main-0.2, p.Supply.Positive-rest) - 0.1
	got := efficiency(following(t, s, n.In, collector, -0.3, 0.1, sineAbout(rest, peak)), total, peak, p.Driver.Collector)
	bound := 0.25
	if got > bound || got < 0.9*bound {
		t.Errorf("efficiency %.4f, the bound is %.2f", got, bound)
	}
	near(t, "efficiency", got, bound*math.Pow(peak/(total/2), 2)*(total/2)/(q.Current*p.Driver.Collector), 1e-3)
}

// TestTransformerCoupledEfficiency does the same with the driver's primary in its
// collector and the damping resistor as the load, while the bases draw nothing: at
// most 50 % (Gray and Meyer, as above), for the collector swings to twice the supply.
func TestTransformerCoupledEfficiency(t *testing.T) {
	p := onRails()
	p.Supply = Supply{Positive: 30}
	p.Source.Ohms = 0
	p.Input = Transformer{Ratio: 90, PrimaryOhms: 1e-3, SecondaryOhms: 1, Magnetising: 10}
	p.Output = Transformer{Ratio: 1, PrimaryOhms: 0.1, SecondaryOhms: 0.1, Magnetising: 1}
	p.Driver = Driver{
		Fitted: true, DividerUpper: 10e3, DividerLower: 314, Emitter: 5, Bypass: 1, Input: 1,
		Damping: 900, Device: quiet(1e-14, 1e4),
	}
	n := mustKind("single-transistor").Build(&p, true, Uniform(room))
	s, q := midband(t, n, 0)
	load := p.Driver.Damping
	collector := n.Circuit.Node("driver collector")
	near(t, "collector at rest", s.Voltage(collector), 30, 1e-3)
	peak := min(q.Main-0.2, q.Current*load) - 0.1
	got := efficiency(following(t, s, n.In, collector, -0.5, 0.2, sineAbout(s.Voltage(collector), peak)), 30, peak, load)
	if got > 0.5 || got < 0.9*0.5 {
		t.Errorf("efficiency %.4f, the bound is 0.50", got)
	}
	near(t, "efficiency", got, 0.5*math.Pow(peak/30, 2)*30/(q.Current*load), 1e-3)
}

// response is a small sine's transfer from the input to a node at a frequency, as
// what is in phase and what leads by a quarter.
func response(t *testing.T, n *Network, node network.Node, hertz float64) complex128 {
	t.Helper()
	const steps, cycles, peak = 500, 8, 1e-6
	rest := n.Circuit.Compile()
	n.SetBias(rest, 0)
	if err := rest.Solve(); err != nil {
		t.Fatal(err)
	}
	tr := rest.Transient(1 / (hertz * steps))
	still := rest.Voltage(node)
	sum := complex128(0)
	for i := range steps * cycles {
		phase := 2 * math.Pi * float64(i+1) / steps
		tr.Set(n.In, peak*math.Sin(phase))
		if err := tr.Step(); err != nil {
			t.Fatal(err)
		}
		if i >= steps*(cycles-1) {
			v := (tr.Solver().Voltage(node) - still) / (peak * steps / 2)
			sum += complex(v*math.Sin(phase), v*math.Cos(phase))
		}
	}
	return sum
}

// TestDriverCorners checks the corner of each coupling capacitor, 1/(2 pi C R) with R
// the resistances on both its sides in series (Boylestad and Nashelsky, Electronic Devices
// and Circuit Theory, low-frequency response): there the response is down
// by the square root of two and 45 degrees ahead.
func TestDriverCorners(t *testing.T) {
	p := driverBeforeGates()
	p.Driver.Bypass = 0 // its own corner is another
	p.Bias.FeedUpper, p.Bias.FeedLower = 4e3, 4e3
	_, q := midband(t, mustKind("complementary-follower").Build(&p, true, Uniform(room)), 0)
	re := device.ThermalVoltage(room)/(q.Current+q.ControlCurrent) + 352
	input := p.Source.Ohms + parallel(p.Driver.DividerUpper, p.Driver.DividerLower, 101*re)
	output := p.Driver.Collector + parallel(p.Bias.FeedUpper, p.Bias.FeedLower)
	for _, row := range []struct {
		name          string
		input, output float64 // farads
		ohms          float64
	}{
		{"input", 1e-6, 1, input},
		{"output", 1, 1e-6, output},
	} {
		p.Driver.Input, p.Driver.Output = row.input, row.output
		n := mustKind("complementary-follower").Build(&p, true, Uniform(room)) // its devices are off
		tap := n.Circuit.Node("tap")
		corner := 1 / (2 * math.Pi * 1e-6 * row.ohms)
		m, _ := midband(t, n, 0)
		ratio := response(t, n, tap, corner) / complex(m.Derivative(tap, n.In), 0)
		near(t, row.name+fmt.Sprintf(" capacitor: in phase at %.3g Hz", corner), real(ratio), 0.5, 1e-3)
		near(t, row.name+" capacitor: ahead", imag(ratio), 0.5, 1e-3)
	}
}

// mustKind returns the circuit of a name.
func mustKind(name string) *Kind {
	k, err := Lookup(name)
	if err != nil {
		panic(err)
	}
	return k
}
