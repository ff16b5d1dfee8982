package stage

import (
	"errors"
	"math"
	"strings"
	"sync"
	"testing"

	"quietcross/dsp/bracket"
	"quietcross/stage/circuits"
	"quietcross/stage/device"
)

// mustStage returns a built-in stage after a change of its spec.
func mustStage(t *testing.T, name string, change func(*Spec)) *Stage {
	t.Helper()
	spec, err := Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(&spec)
	}
	s, err := New(spec)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mustSet(t *testing.T, s *Stage, setting Setting) *Biased {
	t.Helper()
	b, err := s.Set(setting)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// ideal takes every effect out of a pair but its exponential law, so that closed
// forms hold.
func ideal(s *Spec) {
	for _, q := range []*circuits.Transistor{&s.Upper, &s.Lower} {
		q.ForwardGain, q.Early, q.Knee, q.Leakage, q.EmitterOhms, q.CollectorOhms = 0, 0, 0, 0, 0, 0
	}
	s.Source.Ohms = 0
}

// relative fails unless got is within a relative tolerance of want.
func relative(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g within %.1g", what, got, want, tolerance)
	}
}

// TestDeadZoneClosedForm checks the dead zone of an unbiased ideal pair. Its edge
// is where the gain RL/(RL + RE + VT/i) is half of the gain at mid-swing; there
// the input is i (RL + RE) + VT ln(i/IS + 1), by the junction law.
func TestDeadZoneClosedForm(t *testing.T) {
	s := mustStage(t, "pair-12w", ideal)
	b := mustSet(t, s, Bias(0))
	c, err := b.Crossover()
	if err != nil {
		t.Fatal(err)
	}
	spec := s.Spec()
	rl, re, vt := spec.Load.Ohms, spec.Emitter.Ohms, device.ThermalVoltage(spec.Thermal.Ambient)
	i := vt / (2*rl/c.Full - rl - re)
	edge := i*(rl+re) + vt*math.Log1p(i/spec.Upper.Saturation)
	relative(t, "dead zone", c.DeadZone, 2*edge, 1e-6)
	relative(t, "minimum gain", c.Minimum, rl/(rl+re+vt/(2*spec.Upper.Saturation)), 2e-2)
	if math.Abs(c.MinimumAt) > 1e-3 {
		t.Errorf("minimum gain at %g V of a matched pair", c.MinimumAt)
	}
	relative(t, "width", c.Width, c.DeadZone, 1e-6)
}

// TestOptimumIsOlivers checks the default reference against IQ RE = kT/q, and
// that the gain at rest then equals the gain far out (B. M. Oliver,
// Hewlett-Packard Journal, February 1971).
func TestOptimumIsOlivers(t *testing.T) {
	s := mustStage(t, "pair-60w", ideal)
	spec := s.Spec()
	relative(t, "optimum", s.OptimumQuiescent(), device.ThermalVoltage(spec.Thermal.Ambient)/spec.Emitter.Ohms, 1e-12)
	b := mustSet(t, s, Held(s.OptimumQuiescent()))
	_, rest, err := b.Transfer(0)
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "gain at rest", rest, spec.Load.Ohms/(spec.Load.Ohms+spec.Emitter.Ohms), 1e-9)
}

// TestQuiescentIsReached checks that the solved bias gives the current asked for,
// and for an ideal pair that it is the closed form 2 (VT ln(IQ/IS + 1) + IQ RE).
func TestQuiescentIsReached(t *testing.T) {
	real, bare := mustStage(t, "pair-12w", nil), mustStage(t, "pair-12w", ideal)
	spec := bare.Spec()
	vt := device.ThermalVoltage(spec.Thermal.Ambient)
	for _, iq := range []float64{1e-9, 1e-6, 1e-3, 0.05, 0.5} {
		relative(t, "IQ", mustSet(t, real, Held(iq)).Point().Quiescent, iq, 1e-9)
		p := mustSet(t, bare, Held(iq)).Point()
		want := 2 * (vt*math.Log1p(iq/spec.Upper.Saturation) + iq*spec.Emitter.Ohms)
		relative(t, "bias", p.Bias, want, 2e-4*1e-9/iq+1e-9)
	}
}

// TestUnreachableSettings checks that what no bias gives is refused with the
// legal range.
func TestUnreachableSettings(t *testing.T) {
	s := mustStage(t, "pair-12w", nil)
	for _, row := range []struct {
		setting Setting
		says    string
	}{
		{Held(1e6), "quiescent: 1MA is outside the legal range"},
		{Held(0), "quiescent: 0A is outside"},
		{Held(math.NaN()), "quiescent: not a number is outside"},
		{Quiescent(1e6), "quiescent: 1MA is outside the legal range"},
		{Quiescent(1e6).Warm(), "quiescent: 1MA is outside the legal range"},
		{Quiescent(0), "quiescent: 0A is outside"},
		{Quiescent(-1), "quiescent: -1A is outside"},
		{Quiescent(math.NaN()), "quiescent: not a number is outside"},
		{Bias(-0.1), "bias: -100mV is outside the legal range, 0V to 5V"},
		{Bias(6), "bias: 6V is outside"},
		{Bias(math.Inf(1)), "bias: infinite is outside"},
	} {
		_, err := s.Set(row.setting)
		if refused := (*Error)(nil); !errors.As(err, &refused) || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%v: error %v, want %q", row.setting, err, row.says)
		}
	}
}

// TestStarvedFeed checks the maximum output of the as-built pair against its
// own equation: when the upper diode no longer conducts, the feed alone carries
// the base current, (VCC - vb)/R = i/(beta + 1), vb = i (RE + RL) + VT ln(i/IS + 1).
func TestStarvedFeed(t *testing.T) {
	const gain = 100
	s := mustStage(t, "pair-12w", func(s *Spec) {
		ideal(s)
		s.Upper.ForwardGain, s.Lower.ForwardGain = gain, gain
		s.Upper.BaseOhms, s.Lower.BaseOhms = 1e-3, 1e-3
	})
	spec := s.Spec()
	vt := device.ThermalVoltage(spec.Thermal.Ambient)
	i, err := bracket.Root(func(i float64) (float64, error) {
		vb := i*(spec.Emitter.Ohms+spec.Load.Ohms) + vt*math.Log1p(i*gain/(gain+1)/spec.Upper.Saturation)
		return i/(gain+1) - (spec.Supply.Positive-vb)/spec.Bias.FeedUpper, nil
	}, 0, 10, 0)
	if err != nil {
		t.Fatal(err)
	}
	b := mustSet(t, s, AsBuilt())
	_, hi := b.Clip()
	out, _, err := b.Transfer(hi + 2)
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "starved output", out, i*spec.Load.Ohms, 1e-6)
	at, _, err := b.Transfer(hi)
	if err != nil {
		t.Fatal(err)
	}
	if at > out || at < 0.95*out {
		t.Errorf("clipping onset has output %g, the starved output is %g", at, out)
	}
	relative(t, "drive", b.Drive(), hi/1.1220184543, 1e-9)
}

// TestPowerAtRestBalances checks that the supplies deliver what devices and
// resistors take, by the branch currents of the operating point.
func TestPowerAtRestBalances(t *testing.T) {
	for _, named := range []string{"pair-1w", "pair-12w", "pair-60w"} {
		s := mustStage(t, named, func(s *Spec) { s.Lower.ForwardGain *= 0.7 })
		p := mustSet(t, s, AsBuilt()).Point()
		spec := s.Spec()
		upper, lower := p.Devices[0], p.Devices[1]
		resistors := square(upper.Current+upper.ControlCurrent)*spec.Emitter.Ohms +
			square(lower.Current+lower.ControlCurrent)*spec.Emitter.Ohms + square(p.Output)/spec.Load.Ohms
		feedUpper := p.Supplies[0].Current - upper.Current
		feedLower := -p.Supplies[1].Current - lower.Current
		resistors += square(feedUpper)*spec.Bias.FeedUpper + square(feedLower)*spec.Bias.FeedLower
		source := p.Devices[2].Current - p.Devices[3].Current
		resistors += square(source) * spec.Source.Ohms
		relative(t, named, p.SupplyPower, p.Dissipation+resistors, 1e-7)
	}
}

func square(x float64) float64 { return x * x }

// TestForksAgree runs forks of one bias in several goroutines.
func TestForksAgree(t *testing.T) {
	b := mustSet(t, mustStage(t, "pair-1w", nil), AsBuilt())
	want, err := b.Curve(-4, 4, 65)
	if err != nil {
		t.Fatal(err)
	}
	var wait sync.WaitGroup
	for range 4 {
		fork := b.Fork()
		wait.Go(func() {
			got, err := fork.Curve(-4, 4, 65)
			if err != nil {
				t.Error(err)
				return
			}
			for i, sample := range got {
				if math.Abs(sample.Out-want[i].Out) > 1e-12 {
					t.Errorf("at %g V a fork gives %g, not %g", sample.In, sample.Out, want[i].Out)
				}
			}
		})
	}
	wait.Wait()
}

// TestMismatchedPair checks that a mismatch moves the output at rest and that
// equal changes of both devices do not.
func TestMismatchedPair(t *testing.T) {
	offset := func(change func(*Spec)) float64 {
		return mustSet(t, mustStage(t, "pair-12w", change), AsBuilt()).Point().Output
	}
	if v := offset(nil); math.Abs(v) > 1e-12 {
		t.Errorf("a matched pair has %g V at rest", v)
	}
	if v := offset(func(s *Spec) { s.Upper.Saturation *= 2; s.Lower.Saturation *= 2 }); math.Abs(v) > 1e-12 {
		t.Errorf("a matched pair has %g V at rest", v)
	}
	for name, change := range map[string]func(*Spec){
		"saturation current": func(s *Spec) { s.Upper.Saturation *= 2 },
		"temperature":        func(s *Spec) { s.Upper.Rise = 20 },
	} {
		if v := offset(change); v < 1e-3 {
			t.Errorf("%s: a stronger upper device gives %g V at rest", name, v)
		}
	}
}

// TestDefaultLadder checks that the ladder has at least six rungs, rising from
// unbiased through the optimum.
func TestDefaultLadder(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		rungs, err := s.DefaultLadder()
		if err != nil {
			t.Fatal(err)
		}
		if len(rungs) < 6 || rungs[0] != Bias(0) {
			t.Errorf("%s: ladder %v", named.Name, rungs)
		}
		reference := s.reference()
		optimum, last := false, -1.0
		for _, rung := range rungs {
			iq := mustSet(t, s, rung).Point().Quiescent
			optimum = optimum || math.Abs(iq/reference-1) < 1e-6
			if iq <= last {
				t.Errorf("%s: rung %v has %g A after %g", named.Name, rung, iq, last)
			}
			last = iq
		}
		if !optimum || last < 1.5*reference {
			t.Errorf("%s: ladder misses or stops at the optimum: %v", named.Name, rungs)
		}
	}
}

func BenchmarkTransferAsBuilt(b *testing.B) {
	spec, err := Lookup("pair-12w")
	if err != nil {
		b.Fatal(err)
	}
	s, err := New(spec)
	if err != nil {
		b.Fatal(err)
	}
	biased, err := s.Set(AsBuilt())
	if err != nil {
		b.Fatal(err)
	}
	for i := 0; b.Loop(); i++ {
		if _, _, err := biased.Transfer(14 * math.Sin(float64(i)*0.01)); err != nil {
			b.Fatal(err)
		}
	}
}
