package stage

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/device"
	"quietcross/stage/heat"
)

// onReservoir gives a stage a supply with ripple.
func onReservoir(ohms, farads, mains float64) func(*Spec) {
	return func(s *Spec) {
		s.PowerSupply = circuits.PowerSupply{Fitted: true, Ohms: ohms, Farads: farads, Mains: mains, Conduction: 0.25}
	}
}

// TestSupplyResistance checks the rail of a stage on a resistance alone against Ohm's
// law at rest and at full swing, and a sine's mean rail on a reservoir against the mean
// current of a class B half, Vp/(pi RL) (Boylestad and Nashelsky, Power Amplifiers).
func TestSupplyResistance(t *testing.T) {
	s := mustStage(t, "pair-12w", func(s *Spec) { onReservoir(0.7, 0, 0)(s); ideal(s) })
	b := mustSet(t, s, Bias(1.2))
	for _, in := range []float64{0, 10} {
		rails, err := b.Rails(in)
		if err != nil {
			t.Fatal(err)
		}
		want := 20.6 - 0.7*rails[0].Current
		relative(t, "rail", b.solver.Voltage(b.net.Circuit.Node("upper rail")), want, 1e-9)
		if in > 0 && !(want < 20) {
			t.Errorf("the rail does not sag: %g V", want)
		}
	}

	s = mustStage(t, "pair-12w", func(s *Spec) { onReservoir(2, 10e-3, 0)(s); ideal(s); s.Emitter.Ohms = 0.1 })
	b = mustSet(t, s, Held(1e-3))
	const peak = 12.0
	_, rails, err := b.Sagged(Sine(peak))
	if err != nil {
		t.Fatal(err)
	}
	p, err := b.Power(peak)
	if err != nil {
		t.Fatal(err)
	}
	current := p.Output / (math.Pi * 8)
	relative(t, "mean current", rails[0].Current, current, 0.01)
	relative(t, "sag", rails[0].Unloaded-rails[0].Mean, 2*current, 0.01)
	relative(t, "supply power", p.Supply, 2*20.6*rails[0].Current, 1e-3)

	d, err := b.Dynamic(96e3)
	if err != nil {
		t.Fatal(err)
	}
	buffer := make([]float64, 96000*3/10)
	for i := range buffer {
		buffer[i] = peak * math.Sin(2*math.Pi*1000*float64(i)/96e3)
	}
	if err := d.Process(buffer, buffer); err != nil {
		t.Fatal(err)
	}
	rail, mean, count := d.biased.net.Circuit.Node("upper rail"), 0.0, 0
	for i := 0; i+StepSamples <= 96000/10; i += StepSamples { // a tenth of a second from the same phase on
		for k := range buffer[:StepSamples] {
			buffer[k] = peak * math.Sin(2*math.Pi*1000*float64(i+k)/96e3)
		}
		if err := d.Process(buffer[:StepSamples], buffer[:StepSamples]); err != nil {
			t.Fatal(err)
		}
		mean += d.transient.Solver().Voltage(rail)
		count++
	}
	relative(t, "sag in time", 20.6-mean/float64(count), 2*current, 0.01)
}

// TestRipple holds the ripple of a stage at rest, moved through time, and the mean drop
// against their closed forms (circuits.PowerSupply), and that against the textbook's
// I/(2 f C) and I R in their limits; and checks that some of it comes out of the stage.
func TestRipple(t *testing.T) {
	for _, row := range []struct{ ohms, farads, mains float64 }{{1, 2200e-6, 50}, {0.5, 1e-3, 60}, {3, 10e-3, 50}} {
		s := mustStage(t, "pair-60w", func(s *Spec) { onReservoir(row.ohms, row.farads, row.mains)(s); ideal(s) })
		b := mustSet(t, s, Held(0.15))
		h, err := b.Hum()
		if err != nil {
			t.Fatal(err)
		}
		current := b.Point().Supplies[0].Current
		supply := s.Spec().PowerSupply
		relative(t, "ripple", h.Rails[0], supply.Ripple(current), 0.01)
		if h.Output > 1e-6 {
			t.Errorf("equal halves let %g V of equal ripples through", h.Output)
		}
		t.Logf("%v: ripple %.4g V of %.4g in closed form", row, h.Rails[0], supply.Ripple(current))
		drop := b.Point().Supplies[0].Volts - b.solver.Voltage(b.net.Circuit.Node("upper rail"))
		relative(t, "mean drop at rest", drop, current*supply.Effective(), 1e-6)
		relative(t, "mean drop in time", meanDrop(t, b), current*supply.Effective(), 0.01)
	}
	single, err := mustSet(t, mustStage(t, "single-supply-5w", onReservoir(1, 2200e-6, 50)), AsBuilt()).Hum()
	if err != nil {
		t.Fatal(err)
	}
	if !(single.Output > 1e-4 && single.Output < single.Rails[0]) || !(single.RMS > single.Output/10 && single.RMS < single.Output) || !(single.Lines[0] > single.Lines[4]) {
		t.Errorf("on one supply %g V peak to peak, %g RMS and lines %v come of a ripple of %g V", single.Output, single.RMS, single.Lines, single.Rails[0])
	}
	narrow := circuits.PowerSupply{Fitted: true, Ohms: 1, Farads: 0.1, Mains: 50, Conduction: 0.005}
	relative(t, "textbook's ripple", narrow.Ripple(1), 1/(2*50*0.1), 0.01)
	relative(t, "textbook's drop", narrow.Effective(), 1, 0.01)
}

// meanDrop is the mean drop of the upper rail over ten cycles, moved through time.
func meanDrop(t *testing.T, b *Biased) float64 {
	t.Helper()
	d, err := b.Dynamic(humRate)
	if err != nil {
		t.Fatal(err)
	}
	rail := d.biased.net.Circuit.Node("upper rail")
	supply := b.stage.spec.PowerSupply
	if err := d.silence(int(humRate*(0.3+8*supply.Ohms*supply.Farads)), nil); err != nil {
		t.Fatal(err)
	}
	sum, count := 0.0, 0
	if err := d.silence(int(math.Round(10*humRate/(2*supply.Mains))), func([]float64) {
		sum += d.transient.Solver().Voltage(rail)
		count++
	}); err != nil {
		t.Fatal(err)
	}
	return b.Point().Supplies[0].Volts - sum/float64(count)
}

// TestStoppersAreBaseResistance checks that a stopper does what as much resistance inside
// the base does.
func TestStoppersAreBaseResistance(t *testing.T) {
	stopped := mustSet(t, mustStage(t, "pair-12w", func(s *Spec) { s.Stoppers = circuits.Stoppers{Fitted: true, Ohms: 4.7} }), AsBuilt())
	inside := mustSet(t, mustStage(t, "pair-12w", func(s *Spec) { s.Upper.BaseOhms += 4.7; s.Lower.BaseOhms += 4.7 }), AsBuilt())
	without := mustSet(t, mustStage(t, "pair-12w", nil), AsBuilt())
	relative(t, "quiescent current", stopped.Point().Quiescent, inside.Point().Quiescent, 1e-9)
	for _, in := range []float64{0.3, 12, -15} {
		a, g, err := stopped.Transfer(in)
		b, h, other := inside.Transfer(in)
		c, _, third := without.Transfer(in)
		if err := errors.Join(err, other, third); err != nil {
			t.Fatal(err)
		}
		relative(t, "output", a, b, 1e-9)
		relative(t, "gain", g, h, 1e-7)
		if math.Abs(a/c-1) < 1e-6 {
			t.Errorf("a stopper does nothing at %g V", in)
		}
	}
}

// TestSharing holds how two parallel devices share a current against the junction law:
// with a difference dV of their base-emitter voltages at one current,
//
//	VT ln(I1/I2) + RE (I1 - I2) = dV
//
// (common practice: emitter resistors of some VT over the current force the sharing).
func TestSharing(t *testing.T) {
	const spread, re = 0.02, 0.22
	for _, total := range []float64{0.02, 0.2} {
		s := mustStage(t, "pair-12w", func(s *Spec) {
			ideal(s)
			s.Emitter.Ohms = re
			s.Upper.BaseOhms, s.Lower.BaseOhms = 1e-3, 1e-3
			s.Parallel = circuits.Parallel{Fitted: true, Devices: 2, Volts: spread}
		})
		b := mustSet(t, s, Held(total/2))
		sides := b.net.Sides
		ops := b.Point().Devices
		one, two := ops[sides[0][0]].Current, ops[sides[0][1]].Current
		relative(t, "sum", one+two, total, 1e-6)
		vt := device.ThermalVoltage(s.Spec().Thermal.Ambient)
		lo, hi := total/2, total
		for range 60 {
			mid := (lo + hi) / 2
			if vt*math.Log(mid/(total-mid))+re*(2*mid-total) < spread {
				lo = mid
			} else {
				hi = mid
			}
		}
		relative(t, "share of the first", one, lo, 0.01)
		relative(t, "share of the other", two, total-lo, 0.01)
		t.Logf("of %g A the first takes %.4g, by the law %.4g", total, one, lo)
	}
	// Gains: with stiff bases the base currents go as 1/gain.
	s := mustStage(t, "pair-12w", func(s *Spec) {
		ideal(s)
		s.Upper.ForwardGain, s.Lower.ForwardGain = 100, 100
		s.Parallel = circuits.Parallel{Fitted: true, Devices: 3, GainSpread: 0.4}
	})
	ops := mustSet(t, s, Held(0.05)).Point().Devices
	relative(t, "gain of the first", ops[0].Current/ops[0].ControlCurrent, 120, 0.01)
	if alike := mustSet(t, mustStage(t, "fet-30w", func(s *Spec) {
		s.Parallel = circuits.Parallel{Fitted: true, Devices: 2}
	}), AsBuilt()).Point().Devices; math.Abs(alike[0].Current/alike[len(alike)-2].Current-1) > 1e-6 {
		t.Errorf("equal devices do not share alike: %g and %g A", alike[0].Current, alike[len(alike)-2].Current)
	}
}

// TestParallelHeat adds up what two devices in place of one do to the thermal chain: the
// sink has the heat of all four, each junction its own, the hotter of a side counting.
func TestParallelHeat(t *testing.T) {
	settled, err := mustStage(t, "pair-12w-multiplier", func(s *Spec) {
		s.Parallel = circuits.Parallel{Fitted: true, Devices: 2, Volts: 0.01}
	}).Settle(AsBuilt(), 5)
	if err != nil {
		t.Fatal(err)
	}
	th := settled.Biased.Stage().Spec().Thermal
	total, most := 0.0, 0.0
	for _, d := range settled.Power.Devices {
		if d.Name != "multiplier" {
			total += d.Mean
			most = max(most, d.Mean)
		}
	}
	if len(settled.Power.Devices) != 5 || !(most > 1.02*total/4) {
		t.Errorf("%d devices, the first takes %g W of %g", len(settled.Power.Devices), most, total)
	}
	relative(t, "sink's rise", settled.Sink-th.Ambient, th.SinkToAir*total, 1e-4)
	relative(t, "junction's rise", settled.Hottest()-settled.Sink, (th.JunctionToCase+th.CaseToSink)*most, 1e-3)
}

// lines solves a sine of little level and returns the output's fundamental re it.
func lines(t *testing.T, b *Biased, hertz float64) complex128 {
	t.Helper()
	st, err := b.AtFrequency(hertz, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	return st.Lines(1)[0] / 0.1
}

// TestOutputNetwork holds coil and Zobel network against the dividers that they make with
// the load and the output resistance of the stage without them (complex impedances).
func TestOutputNetwork(t *testing.T) {
	fit := func(o circuits.OutputNetwork, load float64) *Biased {
		return mustSet(t, mustStage(t, "pair-12w", func(s *Spec) {
			ideal(s)
			s.OutputNetwork, s.Load.Ohms = o, load
			s.OutputNetwork.Fitted = true
		}), Held(0.5))
	}
	const hertz, load = 50e3, 8
	w := 2 * math.Pi * hertz
	bare := mustSet(t, mustStage(t, "pair-12w", func(s *Spec) { ideal(s); s.Load.Ohms = load }), Held(0.5))
	_, gain, err := bare.Transfer(0)
	if err != nil {
		t.Fatal(err)
	}
	out := complex(load*(1/gain-1), 0)
	coil := complex(0, w*5e-6) * 4.7 / (4.7 + complex(0, w*5e-6))
	got := lines(t, fit(circuits.OutputNetwork{Henries: 5e-6, Damping: 4.7}, load), hertz)
	want := load / (load + out + coil)
	if cmplx.Abs(got-want) > 0.002*cmplx.Abs(want) {
		t.Errorf("behind the coil %v, want %v", got, want)
	}
	if cmplx.Abs(want-load/(load+out)) < 0.05 {
		t.Error("the coil does nothing")
	}
	zobel := 10 + 1/complex(0, w*1e-6)
	both := load * zobel / (load + zobel)
	got, want = lines(t, fit(circuits.OutputNetwork{ZobelOhms: 10, ZobelFarads: 1e-6}, load), hertz), both/(both+out)
	if cmplx.Abs(got-want) > 0.002*cmplx.Abs(want) {
		t.Errorf("with the Zobel network %v, want %v", got, want)
	}
}

// TestSecondPole holds the loop's gain with a second pole against the closed form of two
// poles and a divider, A/(1 + A B) with A = 1/(1/A0 + jf/GBW)/(1 + jf/f2).
func TestSecondPole(t *testing.T) {
	const second = 2e6
	s := mustStage(t, "pair-12w-feedback", func(s *Spec) {
		ideal(s)
		s.Speed = circuits.Speed{Fitted: true, Second: second}
	})
	b := mustSet(t, s, Held(0.5))
	f := s.Spec().Feedback
	plain := mustSet(t, mustStage(t, "pair-12w", ideal), Held(0.5))
	_, inner, err := plain.Transfer(0)
	if err != nil {
		t.Fatal(err)
	}
	for _, hertz := range []float64{20e3, 300e3} {
		a := complex(inner, 0) / (complex(1/f.Gain, hertz/f.Bandwidth) * complex(1, hertz/second))
		want := a / (1 + a/complex(f.Closed, 0))
		got := lines(t, b, hertz)
		if cmplx.Abs(got-want) > 0.01*cmplx.Abs(want) {
			t.Errorf("%g Hz: gain %v, want %v", hertz, got, want)
		}
	}
}

// TestSlewClosedForm holds the third harmonic of a loop whose amplifier slews against the
// closed form of its input pair. The output follows V cos(wt), so that the pair must give
// x = V w/SR of its current; its input is then v0 artanh(x cos), with v0 = SR/(2 pi GBW),
// whose third harmonic comes out with the loop's gain at 3w. From x = 1 on there is no such
// input: the output falls behind, and THD rises steeply there.
func TestSlewClosedForm(t *testing.T) {
	const slew, peak = 0.5e6, 10.0
	s := mustStage(t, "pair-12w-feedback", func(s *Spec) {
		ideal(s)
		s.Emitter.Ohms, s.Supply = 0.05, circuits.Supply{Positive: 40, Negative: 40}
		s.Load.Ohms = 1000
		s.Feedback.Gain = 1e6
		s.Speed = circuits.Speed{Fitted: true, Slew: slew}
	})
	b := mustSet(t, s, Held(0.5))
	f := s.Spec().Feedback
	limit := slew / (2 * math.Pi * peak)
	third := func(x float64) (got, want float64) {
		hertz := x * limit
		st, err := b.AtFrequency(hertz, peak/f.Closed)
		if err != nil {
			t.Fatal(err)
		}
		h := st.Harmonics(3)
		v0, sum := slew/(2*math.Pi*f.Bandwidth), 0.0
		const n = 2000
		for i := range n {
			th := 2 * math.Pi * (float64(i) + 0.5) / n
			if x < 1 {
				sum += v0 * math.Atanh(x*math.Cos(th)) * math.Cos(3*th) * 2 / n
			}
		}
		a := 1 / complex(1/f.Gain, 3*hertz/f.Bandwidth)
		loop := cmplx.Abs(a / (1 + a/complex(f.Closed, 0)))
		return cmplx.Abs(h[3]) / cmplx.Abs(h[1]), math.Abs(sum) * loop / peak
	}
	for _, x := range []float64{0.3, 0.5, 0.7} {
		got, want := third(x)
		t.Logf("V w/SR %.2f (%.0f Hz): third harmonic %.4g, closed form %.4g", x, x*limit, got, want)
		relative(t, "third harmonic", got, want, 0.1)
	}
	// Where it passes half a percent, and how steep it is from there.
	rises := func(of func(x float64) float64) float64 {
		lo, hi := 0.5, 0.9999
		for range 24 {
			if mid := (lo + hi) / 2; of(mid) < 0.005 {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	got := rises(func(x float64) float64 { got, _ := third(x); return got })
	want := rises(func(x float64) float64 { _, want := third(x); return want })
	over, _ := third(1.2)
	t.Logf("passes 0.5 %% at %.4f of the slew limit, by the closed form at %.4f; at 1.2 times it %.4g", got, want, over)
	relative(t, "where it rises", got, want, 0.01)
	if !(over > 8*0.005) {
		t.Errorf("third harmonic %g over the slew limit", over)
	}
}

// TestSafeAreaCorners checks the area at its corners and between, and its derating, by
// the closed forms of its sides.
func TestSafeAreaCorners(t *testing.T) {
	a := heat.Area{Current: 10, Power: 100, BreakdownVolts: 40, BreakdownCurrent: 0.5, Volts: 100, Maximum: 423.15}
	hot := 25 + 273.15 + 50.0
	for _, row := range []struct {
		volts, kelvins, amperes float64
		by                      heat.Limit
	}{
		{5, 298.15, 10, heat.CurrentLimit},
		{20, 298.15, 5, heat.PowerLimit},
		{20, hot, 5 * 0.6, heat.PowerLimit},
		{40, 298.15, 2.5, heat.PowerLimit},
		{100, 298.15, 0.5, heat.BreakdownLimit},
		{math.Sqrt(40 * 100), 298.15, math.Sqrt(2.5 * 0.5), heat.BreakdownLimit},
		{101, 298.15, 0, heat.VoltageLimit},
	} {
		i, by := a.At(row.volts, row.kelvins)
		if math.Abs(i-row.amperes) > 1e-9*row.amperes || by != row.by {
			t.Errorf("%g V: %g A by %s, want %g by %s", row.volts, i, by, row.amperes, row.by)
		}
	}
}

// inArea is an ideal pair with a safe area.
func inArea(s *Spec) {
	ideal(s)
	s.Emitter.Ohms = 0.01
	s.SafeArea = circuits.SafeArea{Fitted: true, Current: 5, Power: 20, Volts: 60}
}

// TestLoadLineOfAResistor holds the worst instant of a class B device against the closed
// form: v i = (VCC - vo) vo/RL is most at vo = VCC/2, VCC^2/(4 RL).
func TestLoadLineOfAResistor(t *testing.T) {
	b := mustSet(t, mustStage(t, "pair-12w", inArea), Held(1e-3))
	l, err := b.LoadLine(18, 298.15)
	if err != nil {
		t.Fatal(err)
	}
	const rail, load = 20.6, 8
	relative(t, "use of the power", l.Worst.Use, rail*rail/(4*load)/20, 0.01)
	relative(t, "volts there", l.Worst.Volts, rail/2, 0.02)
	relative(t, "current there", l.Worst.Current, rail/2/load, 0.02)
	if l.Worst.By != heat.PowerLimit {
		t.Errorf("bound by %s", l.Worst.By)
	}
}

// TestHeatAtAnAngle holds the heat of a class B device into a load of 45 degrees against
// the integral over its half cycle, (1/2 pi) of (VCC - V sin(t + phi)) I sin t from 0 to
// pi, which is VCC I/pi - V I cos(phi)/4, and the worst instant of its load line against
// the maximum of that product.
func TestHeatAtAnAngle(t *testing.T) {
	b := mustSet(t, mustStage(t, "pair-12w", inArea), Held(1e-3))
	for _, degrees := range []float64{0, 45, 60} {
		st, err := b.AtAngle(15, degrees)
		if err != nil {
			t.Fatal(err)
		}
		const rail, load = 20.6, 8
		phi := degrees * math.Pi / 180
		v := cmplx.Abs(st.Lines(1)[0])
		i := v / load
		want := rail*i/math.Pi - v*i*math.Cos(phi)/4
		worst, mean := 0.0, 0.0
		const n = 20000
		for k := range n {
			th := math.Pi * (float64(k) + 0.5) / n
			p := (rail - v*math.Sin(th+phi)) * i * math.Sin(th)
			worst, mean = max(worst, p), mean+p/(2*n)
		}
		relative(t, "integral and its closed form", mean, want, 1e-6)
		p := st.Power()
		relative(t, "heat of a device", p.Devices[0].Mean, want, 0.01)
		l := st.LoadLine(298.15)
		relative(t, "heat by the load line", l.Heat, want, 0.01)
		relative(t, "worst instant", l.Worst.Use, worst/20, 0.015)
		t.Logf("%g degrees: %.4g W, integral %.4g; worst instant %.4g W, closed form %.4g: %s", degrees, p.Devices[0].Mean, want, 20*l.Worst.Use, worst, l.Worst)
	}
}

// everything gives a stage all that it may be given.
func everything(s *Spec) {
	s.PowerSupply = circuits.PowerSupply{Fitted: true, Ohms: 0.5, Farads: 4700e-6, Mains: 50, Conduction: 0.25}
	s.OutputNetwork = circuits.OutputNetwork{Fitted: true, Henries: 1e-6, Damping: 10, ZobelOhms: 10, ZobelFarads: 47e-9}
	s.Stoppers = circuits.Stoppers{Fitted: true, Ohms: 2.2}
	s.Parallel = circuits.Parallel{Fitted: true, Devices: 2, Volts: 0.01, GainSpread: 0.2}
	s.SafeArea = circuits.SafeArea{Fitted: true, Current: 10, Power: 50, BreakdownVolts: 40, BreakdownCurrent: 0.2, Volts: 120}
	s.BiasPart = circuits.BiasPart{Fitted: true, Store: 5, ToSink: 5}
	s.Speed = circuits.Speed{Fitted: true, Slew: 10e6, Second: 10e6}
}

// TestEveryCircuitTakesEverything gives every built-in stage all of it and moves it
// through the whole program: it is set, settles, has a periodic state, moves in time with
// finite values, hums, and its file is read back as it was.
func TestEveryCircuitTakesEverything(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, everything)
		b := mustSet(t, s, AsBuilt())
		settled, err := s.Settle(AsBuilt(), 0.3*b.Drive())
		if err != nil && !errors.Is(err, ErrTooHot) && !errors.Is(err, ErrRunaway) {
			t.Errorf("%s: %v", named.Name, err)
			continue
		}
		st, err := b.AtFrequency(1000, 0.3*b.Drive())
		if err != nil {
			t.Errorf("%s: %v", named.Name, err)
			continue
		}
		line := st.LoadLine(320)
		d, err := b.Dynamic(192e3)
		if err != nil {
			t.Errorf("%s: %v", named.Name, err)
			continue
		}
		buffer := make([]float64, 4000)
		for i := range buffer {
			buffer[i] = 0.3 * b.Drive() * math.Sin(2*math.Pi*1000*float64(i)/192e3)
		}
		if err := d.Process(buffer, buffer); err != nil || !finite(buffer...) {
			t.Errorf("%s: in time: %v", named.Name, err)
		}
		relative(t, named.Name+": fundamental in time", 2*fundamental(buffer[2000:], 192), cmplx.Abs(st.Lines(1)[0]), 0.05)
		ledger := d.OpenLedger()
		if err := d.Process(buffer, buffer); err != nil {
			t.Fatal(err)
		}
		// A stage that is cut off moves nanojoules beside reservoirs that hold a joule, of
		// which rounding is what is left over.
		delivered, held := math.Abs(ledger.Supply)+math.Abs(ledger.Input), 0.5*4700e-6*s.Spec().Supply.Positive*s.Spec().Supply.Positive
		if out := math.Abs(ledger.Imbalance()) * delivered; !(out < 1e-5*delivered+1e-11*held) {
			t.Errorf("%s: the books are out by %g J of %g J", named.Name, out, delivered)
		}
		h, err := b.Hum()
		if err != nil || !(h.Rails[0] > 0) || !finite(h.Output, h.RMS) {
			t.Errorf("%s: hum %+v, %v", named.Name, h, err)
		}
		if !finite(settled.Hot, line.Heat, line.Worst.Use) || len(line.Devices) != 2*len(b.Outputs()) {
			t.Errorf("%s: %g A settled, %d devices, %+v", named.Name, settled.Hot, len(line.Devices), line.Worst)
		}
	}
}

// fundamental returns half the amplitude of the cycle of that many samples.
func fundamental(x []float64, samples int) float64 {
	x = x[:len(x)/samples*samples]
	var sum complex128
	for i, v := range x {
		sum += cmplx.Rect(v, -2*math.Pi*float64(i)/float64(samples))
	}
	return cmplx.Abs(sum) / float64(len(x))
}

// TestNextToNothingChangesNothing checks that each part in its limit of next to no effect
// leaves a stage's figures as they are.
func TestNextToNothingChangesNothing(t *testing.T) {
	for _, name := range []string{"pair-12w", "darlington-30w", "fet-30w", "feedback-pair-30w", "push-pull-divider", "single-class-a", "single-supply-5w"} {
		plain := mustSet(t, mustStage(t, name, nil), AsBuilt())
		slight := mustSet(t, mustStage(t, name, func(s *Spec) {
			s.PowerSupply = circuits.PowerSupply{Fitted: true, Ohms: 1e-3, Conduction: 0.25}
			s.OutputNetwork = circuits.OutputNetwork{Fitted: true, Henries: 1e-8, ZobelOhms: 10, ZobelFarads: 1e-10}
			s.Stoppers = circuits.Stoppers{Fitted: true, Ohms: 0.01}
			s.Parallel = circuits.Parallel{Fitted: true, Devices: 1}
		}), AsBuilt())
		relative(t, name+": quiescent current", slight.Point().Quiescent, plain.Point().Quiescent, 2e-3)
		_, g, err := plain.Transfer(plain.Drive() / 2)
		_, h, other := slight.Transfer(plain.Drive() / 2)
		if err := errors.Join(err, other); err != nil {
			t.Fatal(err)
		}
		relative(t, name+": gain", h, g, 1e-3)
	}
}
