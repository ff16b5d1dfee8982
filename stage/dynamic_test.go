package stage

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
)

// tone returns seconds of a sine at a rate, from its zero crossing.
func tone(peak, hertz, rate, seconds float64) []float64 {
	x := make([]float64, int(seconds*rate))
	for i := range x {
		x[i] = peak * math.Sin(2*math.Pi*hertz*float64(i+1)/rate)
	}
	return x
}

func mustDynamic(t testing.TB, b *Biased, rate float64) *Dynamic {
	t.Helper()
	d, err := b.Dynamic(rate)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestDynamicAgreesWithStatic runs stages without memory both ways: the same
// equations must give the same output to -110 dB re the drive, up to 20 kHz.
func TestDynamicAgreesWithStatic(t *testing.T) {
	const rate, hertz = 384e3, 1000
	for _, setting := range []Setting{AsBuilt(), Bias(0), Bias(1.2)} {
		s := mustStage(t, "pair-12w", nil)
		if s.HasMemory() {
			t.Fatal("a pair with a resistor has memory")
		}
		b := mustSet(t, s, setting)
		in := tone(b.Drive(), hertz, rate, 2e-3)
		out := make([]float64, len(in))
		if err := mustDynamic(t, b, rate).Process(out, in); err != nil {
			t.Fatal(err)
		}
		cycle := out[len(out)-int(rate/hertz):]
		e := make([]float64, len(cycle))
		for i := range e {
			at := float64(len(out)-len(cycle)+i+1-Latency) / rate
			e[i] = cycle[i] - underTriangle(t, b, func(x float64) float64 {
				return b.Drive() * math.Sin(2*math.Pi*hertz*x)
			}, at, 1/rate)
		}
		most := b.Drive() * math.Pow(10, -110.0/20)
		if worst := maximumLine(e, int(20e3/hertz)); worst > most {
			t.Errorf("%v: a line of the difference is %.2g V, most is %.2g V", setting, worst, most)
		}
	}
}

// underTriangle returns the mean of a stage's static output about a time under a
// triangle of two steps, by Simpson's rule.
func underTriangle(t *testing.T, b *Biased, signal func(seconds float64) float64, at, step float64) float64 {
	t.Helper()
	const parts = 128 // even
	sum, weights := 0.0, 0.0
	for i := -parts; i <= parts; i++ {
		out, _, err := b.Transfer(signal(at + step*float64(i)/parts))
		if err != nil {
			t.Fatal(err)
		}
		w := float64(2 + 2*(i&1))
		sum += w * (1 - math.Abs(float64(i))/parts) * out
		weights += w * (1 - math.Abs(float64(i))/parts)
	}
	return sum / weights
}

// maximumLine returns the maximum amplitude among the first lines of a whole period.
func maximumLine(x []float64, lines int) float64 {
	worst := 0.0
	for _, c := range fourier.NewFFT(len(x)).Coefficients(nil, x)[:lines+1] {
		worst = max(worst, 2*cmplx.Abs(c)/float64(len(x)))
	}
	return worst
}

// TestBooksClose runs every built-in stage, unbiased and as built, and checks that
// energy is conserved: supplies and input against devices, resistances and stores.
func TestBooksClose(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		drive, err := s.Drive()
		if err != nil {
			t.Fatal(err)
		}
		for _, setting := range []Setting{AsBuilt(), Bias(0)} {
			d := mustDynamic(t, mustSet(t, s, setting), 96e3)
			books := d.OpenLedger()
			x := tone(drive, 1000, 96e3, 5e-3)
			if err := d.Process(x, x); err != nil {
				t.Fatalf("%s %v: %v", named.Name, setting, err)
			}
			e := books.Imbalance()
			t.Logf("%s %v: out by %.1g of the energy", named.Name, setting, e)
			if !(math.Abs(e) < 1e-6) {
				t.Errorf("%s %v: books are out by %g: %+v", named.Name, setting, e, books)
			}
		}
	}
}

// TestBooksOfTheRule checks that what the integration rule's corrections put into the
// stores of any built-in stage is no part of its energy, over 25 cycles at the rate of a
// rendering: under 1e-6. The worst is the unbiased pair with a voice coil, whose current has a
// kink at every crossing that the past does not extrapolate. A stage that a bias of 0 V
// keeps silent has no energy to compare with.
func TestBooksOfTheRule(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		if !s.HasMemory() {
			continue
		}
		drive, err := s.Drive()
		if err != nil {
			t.Fatal(err)
		}
		for _, setting := range []Setting{AsBuilt(), Bias(0)} {
			d := mustDynamic(t, mustSet(t, s, setting), 768e3)
			books := d.OpenLedger()
			x := tone(drive, 1000, 768e3, 25e-3)
			if err := d.Process(x, x); err != nil {
				t.Fatalf("%s: %v", named.Name, err)
			}
			delivered := books.Supply + books.Input
			if delivered < 1e-6 {
				continue
			}
			part := books.Rule / delivered
			t.Logf("%s %v: the rule put in %.2g of the energy", named.Name, setting, part)
			if !(math.Abs(part) < 1e-6) {
				t.Errorf("%s %v: the rule put in %.2g of the energy", named.Name, setting, part)
			}
		}
	}
}

// TestBooksCloseWithSaturatingCores checks the energy account of transformers whose
// cores saturate.
func TestBooksCloseWithSaturatingCores(t *testing.T) {
	s := mustStage(t, "push-pull-divider", func(s *Spec) { s.Input.Saturation, s.Output.Saturation = 0.05, 0.002 })
	for _, setting := range []Setting{AsBuilt(), Bias(0)} {
		b := mustSet(t, s, setting)
		d := mustDynamic(t, b, 96e3)
		books := d.OpenLedger()
		x := tone(b.Drive(), 200, 96e3, 10e-3)
		if err := d.Process(x, x); err != nil {
			t.Fatal(err)
		}
		if e := books.Imbalance(); !(math.Abs(e) < 1e-6) {
			t.Errorf("%v: books are out by %g: %+v", setting, e, books)
		}
	}
}

// TestNothingRings passes a tone of little more than the dead zone through the unbiased
// pair with a loudspeaker: while both devices are off, the voice coil's voltage would ring
// from step to step under the trapezoidal rule, and every step be split for it.
func TestNothingRings(t *testing.T) {
	d := mustDynamic(t, mustSet(t, mustStage(t, "pair-12w-speaker", nil), Bias(0)), 768e3)
	x := tone(1.5, 400, 768e3, 10e-3)
	if err := d.Process(x, x); err != nil {
		t.Fatal(err)
	}
	s := d.Steps()
	t.Logf("%+v", s)
	if s.Refined > s.Taken/4 || s.Iterations > 4*s.Taken {
		t.Errorf("of %d steps %d were split, with %d iterations", s.Taken, s.Refined, s.Iterations)
	}
}

// TestNextToNothingIsSmooth passes a tone of a nanovolt through every built-in stage with
// memory: what differs from a smooth output then is rounding, which no step may be split
// for.
func TestNextToNothingIsSmooth(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		if !s.HasMemory() {
			continue
		}
		d := mustDynamic(t, mustSet(t, s, AsBuilt()), 768e3)
		x := tone(1e-9, 1000, 768e3, 10e-3)
		if err := d.Process(x, x); err != nil {
			t.Fatalf("%s: %v", named.Name, err)
		}
		if st := d.Steps(); st.Refined > st.Taken/50 {
			t.Errorf("%s: of %d steps %d were split", named.Name, st.Taken, st.Refined)
		}
	}
}

// charged gives the devices of a stage charges to move.
func charged(s *Spec) {
	for _, q := range []*circuits.Transistor{&s.Upper, &s.Lower} {
		q.TransitTime, q.BaseEmitterFarads, q.BaseCollectorFarads = 50e-9, 1e-9, 200e-12
	}
}

// TestBooksCloseWithCharges checks the energy account of devices with charges.
func TestBooksCloseWithCharges(t *testing.T) {
	s := mustStage(t, "pair-12w", charged)
	d := mustDynamic(t, mustSet(t, s, Bias(1.2)), 768e3)
	books := d.OpenLedger()
	x := tone(10, 10e3, 768e3, 1e-3)
	if err := d.Process(x, x); err != nil {
		t.Fatal(err)
	}
	if e := books.Imbalance(); !(math.Abs(e) < 1e-6) {
		t.Errorf("books are out by %g", e)
	}
}

// slowLoop is a two-device feedback pair of slow devices inside a unity-gain loop.
func slowLoop(t *testing.T, hertz float64) *Biased {
	t.Helper()
	s := mustStage(t, "feedback-pair-30w", func(s *Spec) {
		for _, q := range []*circuits.Transistor{&s.Drivers.Upper, &s.Drivers.Lower, &s.Upper, &s.Lower} {
			q.TransitTime, q.BaseOhms, q.BaseCollectorFarads = 50e-9, 300, 200e-12
		}
		s.Feedback = circuits.Feedback{Gain: 1e4, Bandwidth: hertz, Closed: 1, Swing: 30}
	})
	return mustSet(t, s, Held(0.02))
}

// TestUnstableLoopIsRefused gives the loop too much bandwidth and checks that it is
// refused as unstable, while with little bandwidth it is not.
func TestUnstableLoopIsRefused(t *testing.T) {
	if _, err := slowLoop(t, 10e3).Dynamic(768e3); err != nil {
		t.Errorf("10 kHz: %v", err)
	}
	if _, err := slowLoop(t, 3e6).Dynamic(768e3); !errors.Is(err, ErrUnstable) {
		t.Errorf("3 MHz: %v", err)
	}
}

// TestUnstableLoopGrows kicks the refused loop and checks that it swings up by
// itself as fast as its growth says.
func TestUnstableLoopGrows(t *testing.T) {
	b := slowLoop(t, 3e6)
	net, rest := b.stage.build(&b.made)
	if err := rest.Solve(); err != nil {
		t.Fatal(err)
	}
	const step, window = 1e-8, 300
	tr := rest.Transient(step)
	motions, ok := tr.Motions()
	if !ok {
		t.Fatal("no motions")
	}
	rate := network.Fastest(motions).Rate
	maximum := func(steps int) float64 {
		out := 0.0
		for range steps {
			if err := tr.Step(); err != nil {
				t.Fatal(err)
			}
			out = max(out, math.Abs(tr.Solver().Voltage(net.Out)-b.point.Output))
		}
		return out
	}
	tr.Set(net.In, 1e-6)
	maximum(1)
	tr.Set(net.In, 0)
	maximum(window)
	early := maximum(window)
	late := maximum(window)
	relative(t, "growth", math.Log(late/early)/(window*step), rate, 0.1)
}

// TestLedgerAgreesWithPower compares the mean powers of whole cycles in time with
// those of the static survey.
func TestLedgerAgreesWithPower(t *testing.T) {
	b := mustSet(t, mustStage(t, "pair-12w", nil), AsBuilt())
	want, err := b.Power(10)
	if err != nil {
		t.Fatal(err)
	}
	d := mustDynamic(t, b, 384e3)
	x := tone(10, 1000, 384e3, 1e-3)
	books := d.OpenLedger()
	for range 4 {
		out := make([]float64, len(x))
		if err := d.Process(out, x); err != nil {
			t.Fatal(err)
		}
	}
	supply, _, load, devices := books.Powers()
	relative(t, "supply", supply, want.Supply, 1e-3)
	relative(t, "load", load, want.Load, 1e-3)
	relative(t, "devices", devices, want.Dissipation(), 1e-3)
}

// TestMeterAgreesWithLedger holds the mean powers that a meter takes at every fourth step to
// those of the ledger, which books every part of every step, over 20 cycles of 1 kHz: within
// a thousandth, through circuits that are read from a surface and one that is solved.
func TestMeterAgreesWithLedger(t *testing.T) {
	for _, name := range []string{"pair-12w-speaker", "pair-12w-feedback", "single-class-a", "push-pull-divider"} {
		s := mustStage(t, name, nil)
		drive, err := s.Drive()
		if err != nil {
			t.Fatal(err)
		}
		b := mustSet(t, s, AsBuilt())
		booked, metered := mustDynamic(t, b, 768e3), mustDynamic(t, b, 768e3)
		ledger, meter := booked.OpenLedger(), metered.OpenMeter()
		for _, d := range []*Dynamic{booked, metered} {
			x := tone(drive, 1000, 768e3, 20e-3)
			if err := d.Process(x, x); err != nil {
				t.Fatal(err)
			}
		}
		supply, _, load, devices := ledger.Powers()
		for _, row := range []struct {
			name      string
			got, want float64
		}{{"supply", meter.Supply, supply}, {"load", meter.Load, load}, {"devices", meter.Devices, devices}} {
			got := row.got / meter.Seconds
			t.Logf("%s, %s: %.6g W, %.6g W booked", name, row.name, got, row.want)
			if !(math.Abs(got/row.want-1) < 1e-3) {
				t.Errorf("%s, %s: %g W, %g W booked", name, row.name, got, row.want)
			}
		}
	}
}

// TestHeatDriftEndsSteady follows a stage with a light sink through half a minute's
// worth of heating and compares it with the steady temperatures, which are found
// without time.
func TestHeatDriftEndsSteady(t *testing.T) {
	s := mustStage(t, "pair-12w", func(s *Spec) { s.Thermal.SinkStore, s.Thermal.JunctionStore = 0.03, 0.005 })
	const peak = 8
	want, err := s.Settle(AsBuilt(), peak)
	if err != nil {
		t.Fatal(err)
	}
	d := mustDynamic(t, mustSet(t, s, AsBuilt()), 48e3)
	ambient := s.Spec().Thermal.Ambient
	w := d.FollowHeat(circuits.Uniform(ambient), ambient)
	x := tone(peak, 1000, 48e3, 0.1)
	out := make([]float64, len(x))
	for range 15 {
		if err := d.Process(out, x); err != nil {
			t.Fatal(err)
		}
	}
	relative(t, "sink's rise", w.Sink-ambient, want.Sink-ambient, 0.01)
	relative(t, "junction's rise", w.Temperatures.Upper-ambient, want.Temperatures.Upper-ambient, 0.01)
	relative(t, "bias part's rise", w.Temperatures.Bias-ambient, want.Temperatures.Bias-ambient, 0.01)
	if w.TooHot {
		t.Error("too hot")
	}
}

// TestConeMoves checks the cone at a low frequency, where the compliance alone
// holds it: displacement = Bl i Cms, with Cms = Lces/Bl^2, so Bl x = Lces i.
func TestConeMoves(t *testing.T) {
	s := mustStage(t, "pair-12w-speaker", nil)
	b := mustSet(t, s, AsBuilt())
	d := mustDynamic(t, b, 48e3)
	if !s.HasMemory() {
		t.Error("a loudspeaker has no memory")
	}
	const hertz = 5
	x := tone(5, hertz, 48e3, 1.25/hertz*1.0)
	if err := d.Process(x, x); err != nil {
		t.Fatal(err)
	}
	cone, ok := d.Cone()
	if !ok {
		t.Fatal("no cone")
	}
	spec := s.Spec()
	law, _ := spec.Load.Speaker()
	_, _, lces := law.Motional()
	relative(t, "displacement", cone.Displacement, lces*cone.Current/spec.Load.Force, 0.01)
	if math.Abs(cone.Velocity) > 0.2*2*math.Pi*hertz*cone.Displacement {
		t.Errorf("at the turning point the cone moves at %g m/s", cone.Velocity)
	}
	// The first quarter cycle brings it out, and there it stands now.
	relative(t, "excursion", d.Excursion(), cone.Displacement, 0.05)
}

// TestCouplingCapacitorMovesBias drives the capacitor-coupled transistor hard: its
// base rectifies, which charges the capacitor and lowers the mean collector
// current under the quiescent one (the clamping action of a capacitor and a
// diode: Sedra and Smith, Microelectronic Circuits, the clamped capacitor).
func TestCouplingCapacitorMovesBias(t *testing.T) {
	s := mustStage(t, "single-capacitor", nil)
	b := mustSet(t, s, AsBuilt())
	d := mustDynamic(t, b, 96e3)
	x := tone(6, 1000, 96e3, 0.25)
	if err := d.Process(x, x); err != nil {
		t.Fatal(err)
	}
	quiet := make([]float64, 96)
	if err := d.Process(quiet, quiet); err != nil {
		t.Fatal(err)
	}
	after := d.transient.Solver().Device(0).Current
	if after > 0.5*b.Point().Quiescent {
		t.Errorf("after a loud passage %g A flow at rest, before it %g A", after, b.Point().Quiescent)
	}
}

// TestDynamicRefuses checks rates out of range and an input that is no number.
func TestDynamicRefuses(t *testing.T) {
	b := mustSet(t, mustStage(t, "pair-1w", nil), AsBuilt())
	for _, rate := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := b.Dynamic(rate); err == nil {
			t.Errorf("rate %g was taken", rate)
		}
	}
	x := []float64{0, math.NaN()}
	if err := mustDynamic(t, b, 48e3).Process(x, x); !errors.Is(err, network.ErrNoPoint) {
		t.Errorf("error %v", err)
	}
}
