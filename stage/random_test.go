package stage

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
)

// randomSpec draws every value of a circuit from its whole legal range: evenly in
// logarithm where the range is positive, else evenly, and zero where legal in
// one case of four.
func randomSpec(rng *rand.Rand, kind *circuits.Kind) Spec {
	s := Spec{Name: "random", Title: "drawn at random", Circuit: kind.Name, Parts: circuits.Defaults()}
	s.Driver.Fitted = rng.IntN(2) == 0
	for _, group := range kind.Groups(&s.Parts) {
		if group.Absent() {
			continue
		}
		for _, f := range group.Fields {
			x := f.Range.Min + rng.Float64()*(f.Range.Max-f.Range.Min)
			if f.Range.Min > 0 {
				x = f.Range.Min * math.Pow(f.Range.Max/f.Range.Min, rng.Float64())
			}
			if f.Range.Zero != "" && rng.IntN(4) == 0 {
				x = 0
			}
			switch v := f.Value.(type) {
			case *float64:
				*v = min(max(x, min(f.Range.Min, x*0)), f.Range.Max)
			case *int:
				*v = int(math.Round(x))
			}
		}
	}
	if kind.Check(&s.Parts) != nil {
		return randomSpec(rng, kind)
	}
	return s
}

// randomSettings are ways to set a random stage.
func randomSettings(rng *rand.Rand, s *Stage) []Setting {
	return []Setting{
		AsBuilt(), Bias(rng.Float64() * s.kind.MaximumBias),
		Quiescent(math.Pow(10, -8+8*rng.Float64())),
		Held(math.Pow(10, -8+8*rng.Float64())),
	}
}

// TestRandomStages sets thousands of random legal stages: each gives either
// finite values whose currents add up at the output, or a refusal that says why.
// QUIETCROSS_LONG=1 sets more than 10,000 of them.
func TestRandomStages(t *testing.T) {
	count := 240
	if os.Getenv("QUIETCROSS_LONG") != "" {
		count = 1200
	}
	seed := uint64(20)
	tried := 0
	lost := map[string]int{}
	for n := range count {
		for k, kind := range circuits.Kinds() {
			// Each circuit has its own sequence, so that a new value in one leaves the others.
			rng := rand.New(rand.NewPCG(seed, uint64(100*n+k)))
			spec := randomSpec(rng, kind)
			s, err := New(spec)
			if err != nil {
				t.Fatalf("seed %d, case %d: a legal spec was refused: %v", seed, n, err)
			}
			// Every fourth case takes each kind of setting.
			setting := randomSettings(rng, s)[n%4]
			tried++
			if !works(t, s, setting) {
				lost[kind.Name]++
			}
			if t.Failed() {
				var text bytes.Buffer
				if err := spec.Write(&text); err != nil {
					t.Log(err)
				}
				t.Fatalf("seed %d, case %d, %v:\n%s", seed, n, setting, text.String())
			}
		}
	}
	t.Logf("%d settings", tried)
	if len(lost) > 0 {
		t.Errorf("settings without an operating point: %v", lost)
	}
}

// TestExtremeLoop sets stages, drawn as TestRandomStages draws: one that has points only by
// raising the gain of its loop step by step, and a feedback pair whose loop latches, so
// that points lie behind folds.
func TestExtremeLoop(t *testing.T) {
	for _, name := range []string{"darlington", "feedback_pair"} {
		name = "testdata/loops/" + name + ".toml"
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		spec, err := Read(f, name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := New(spec)
		if err != nil {
			t.Fatal(err)
		}
		if !works(t, s, AsBuilt()) {
			t.Errorf("%s: no operating point", name)
		}
	}
}

// works reports whether a setting has an operating point, and fails the test if
// what it gives is not whole.
func works(t *testing.T, s *Stage, setting Setting) bool {
	t.Helper()
	b, err := s.Set(setting)
	var refused *Error
	switch {
	case errors.As(err, &refused):
		return true
	case errors.Is(err, network.ErrNoPoint):
		t.Log(err)
		return false
	case err != nil:
		t.Errorf("%v: neither an *Error nor without an operating point: %v", setting, err)
		return false
	}
	lo, hi := b.Clip()
	if !(lo < 0 && hi > 0) {
		t.Errorf("clipping onsets %g, %g", lo, hi)
	}
	for _, in := range []float64{lo * 1.1, lo / 3, 0, hi / 7, hi} {
		out, gain, err := b.Transfer(in)
		if errors.Is(err, network.ErrNoPoint) {
			t.Log(err)
			return false
		}
		if err != nil {
			t.Errorf("input %g: %v", in, err)
			continue
		}
		if !finite(out, gain) {
			t.Errorf("input %g: output %g, gain %g", in, out, gain)
		}
		if s.kind.Name == "complementary-follower" && s.spec.Feedback.Gain == 0 && !s.spec.Driver.Fitted {
			addUp(t, b, out, gain)
		}
		if s.spec.Feedback.Gain == 0 { // a loop makes features finer than differences
			slopeFits(t, b, in, gain)
		}
	}
	return true
}

// slopeFits checks an incremental gain by differences of the output, closer ones where
// the curve bends within the first.
func slopeFits(t *testing.T, b *Biased, in, gain float64) {
	t.Helper()
	lo, hi := b.Clip()
	h := 1e-4 * min(10, hi-lo)
	if message := slopeMissed(t, b, in, gain, h); message != "" && slopeMissed(t, b, in, gain, h/16) != "" {
		t.Error(message)
	}
}

// slopeMissed says how differences of the output over h miss an incremental gain.
func slopeMissed(t *testing.T, b *Biased, in, gain, h float64) string {
	t.Helper()
	var out [3]float64
	for i := range out {
		var err error
		if out[i], _, err = b.Transfer(in + h*float64(i-1)); err != nil {
			if !errors.Is(err, network.ErrNoPoint) {
				t.Errorf("input %g: %v", in, err)
			}
			return ""
		}
	}
	below, above := (out[1]-out[0])/h, (out[2]-out[1])/h
	rounding := 5e-9
	if spec := &b.stage.spec; spec.Driver.Fitted {
		rounding = 2e-8 // of two stages, with nodes between capacitors that next to nothing holds
		for _, winding := range []circuits.Transformer{spec.Input, spec.Output} {
			if winding.Ratio > 0 {
				rounding /= min(1, winding.Ratio) // stepped up
			}
		}
	}
	if math.Abs((below+above)/2-gain) > rounding/h+1e-3*math.Abs(gain)+math.Abs(above-below) {
		return fmt.Sprintf("input %g: gain %g, differences give %g and %g", in, gain, below, above)
	}
	return ""
}

// addUp checks that the load's current is that of the output devices, and that a
// follower has no more gain than one.
func addUp(t *testing.T, b *Biased, out, gain float64) {
	t.Helper()
	if math.Abs(gain) > 1+1e-9 {
		t.Errorf("output %g, gain %g", out, gain)
	}
	devices := b.solver.Devices()
	upper, lower := devices[0], devices[1]
	sum := upper.Current + upper.ControlCurrent - lower.Current - lower.ControlCurrent
	load := out / b.stage.spec.Load.Ohms
	size := math.Abs(upper.Current) + math.Abs(lower.Current) + math.Abs(upper.ControlCurrent) + math.Abs(lower.ControlCurrent) + math.Abs(load)
	if !(math.Abs(sum-load) <= 1e-5*size+1e-9) {
		t.Errorf("devices give %g A, the load takes %g A", sum, load)
	}
}

// TestRandomStagesInTime runs random stages with their stores, charges and loops
// through a burst: each gives finite samples or an error that says why.
func TestRandomStagesInTime(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 1))
	refused := map[string]int{}
	const count = 30
	for n := range count {
		for _, kind := range circuits.Kinds() {
			s, err := New(randomSpec(rng, kind))
			if err != nil {
				t.Fatal(err)
			}
			b, err := s.Set(randomSettings(rng, s)[n%4])
			if err != nil {
				continue
			}
			if err := burst(t, b); err != nil {
				if !errors.Is(err, network.ErrNoPoint) && !errors.Is(err, ErrUnstable) {
					t.Errorf("%s, case %d: %v", kind.Name, n, err)
				}
				refused[kind.Name]++
			}
		}
	}
	t.Logf("of %d each, refused as unstable or without a solution: %v", count, refused)
}

// burst runs a bias at full drive for 2 ms and checks that its samples are finite and
// that energy is conserved, as far as values at the ends of their legal ranges let
// double precision tell.
func burst(t *testing.T, b *Biased) error {
	t.Helper()
	d, err := b.Dynamic(96e3)
	if err != nil {
		return err
	}
	books := d.OpenLedger()
	x := tone(b.Drive(), 1000, 96e3, 2e-3)
	if err := d.Process(x, x); err != nil {
		return err
	}
	if !finite(x...) {
		t.Errorf("%v: samples are not finite", b.setting)
	}
	if e := books.Imbalance(); !(math.Abs(e) < 1e-5) {
		t.Errorf("%s %v: books are out by %.2g", b.stage.kind.Name, b.setting, e)
	}
	return nil
}

// TestRandomStagesRead runs random stages, whose devices keep no charges, twice at the rate of a rendering, with every step
// solved, which a ledger makes them be, and with steps read from a surface where the
// circuit has one: where the one has a solution so has the other, and no sample is off by
// more than a thousandth of the maximum (-60 dB; kinks of random stages leap by much).
func TestRandomStagesRead(t *testing.T) {
	const rate, seconds = 768e3, 8e-3
	rng := rand.New(rand.NewPCG(31, 1))
	tried, read, worst := 0, int64(0), 0.0
	for range 3 {
		for _, kind := range circuits.Kinds() {
			spec := randomSpec(rng, kind)
			spec.Driver.Fitted, spec.Output.Leakage = false, 0
			for _, q := range []*circuits.Transistor{&spec.Upper, &spec.Lower, &spec.Drivers.Upper, &spec.Drivers.Lower, &spec.Multiplier.Device} {
				q.TransitTime, q.BaseEmitterFarads, q.BaseCollectorFarads = 0, 0, 0
			}
			s, err := New(spec)
			if err != nil {
				continue
			}
			b, err := s.Set(Bias(rng.Float64() * 2))
			if err != nil {
				continue
			}
			solved, err := b.Dynamic(rate)
			if err != nil {
				continue
			}
			solved.OpenLedger()
			want := tone(b.Drive()/2, 1370, rate, seconds)
			got := tone(b.Drive()/2, 1370, rate, seconds)
			if solved.Process(want, want) != nil {
				continue
			}
			d := mustDynamic(t, b, rate)
			d.OpenMeter()
			if err := d.Process(got, got); err != nil {
				t.Errorf("%s %v: %v", kind.Name, b.setting, err)
				continue
			}
			tried++
			read += d.Steps().Read
			size, miss := b.Drive()/200, 0.0 // what passes less than a hundredth is followed as if it were that
			for i := range want {
				size, miss = max(size, math.Abs(want[i])), max(miss, math.Abs(got[i]-want[i]))
			}
			worst = max(worst, miss/size)
			if !(miss < 1e-3*size) {
				t.Errorf("%s %v: off by %.2g of %.2g V; %+v", kind.Name, b.setting, miss, size, d.Steps())
			}
		}
	}
	t.Logf("%d stages, %d steps and parts read, worst %.2g of the maximum", tried, read, worst)
	if tried < 12 || read < 10000 {
		t.Errorf("%d stages, %d steps and parts read", tried, read)
	}
}

// TestRandomDriversKeepBooks puts random drivers before the built-in stages of every
// circuit, so that the output stages are such as one builds, and checks that energy
// is conserved through full drive and four times that.
func TestRandomDriversKeepBooks(t *testing.T) {
	rng := rand.New(rand.NewPCG(22, 1))
	tried, lost := 0, 0
	for range 12 {
		for _, s := range driven(t) {
			kind, spec := s.kind, s.spec
			spec.Driver = randomDriver(rng, kind, spec.Parts)
			own, err := New(spec)
			if err != nil {
				t.Fatal(err)
			}
			tried++
			for _, setting := range []Setting{AsBuilt(), Bias(rng.Float64() * 0.6)} {
				if err := keepsBooks(t, own, setting); err != nil {
					t.Logf("%s %v: %v", kind.Name, setting, err)
					lost++
				}
			}
		}
	}
	t.Logf("%d drivers, %d runs without a solution", tried, lost)
	if lost > tried/50 {
		t.Errorf("%d of %d runs have no solution", lost, 2*tried)
	}
}

// randomDriver draws a driver that is legal before a stage.
func randomDriver(rng *rand.Rand, kind *circuits.Kind, parts circuits.Parts) circuits.Driver {
	for {
		random := randomSpec(rng, kind)
		if !random.Driver.Fitted {
			continue
		}
		parts.Driver = random.Driver
		if kind.Check(&parts) == nil {
			return parts.Driver
		}
	}
}

func keepsBooks(t *testing.T, s *Stage, setting Setting) error {
	t.Helper()
	b, err := s.Set(setting)
	if err != nil {
		return err
	}
	d, err := b.Dynamic(96e3)
	if err != nil {
		return err
	}
	books := d.OpenLedger()
	for _, peak := range []float64{b.Drive(), 4 * b.Drive()} {
		x := tone(peak, 1000, 96e3, 1e-3)
		if err := d.Process(x, x); err != nil {
			return err
		}
		if !finite(x...) {
			t.Errorf("%s %v: samples are not finite", s.kind.Name, setting)
		}
	}
	if e := books.Imbalance(); !(math.Abs(e) < 1e-6) {
		t.Errorf("%s %v: books are out by %g: %+v", s.kind.Name, setting, e, s.spec.Driver)
	}
	return nil
}
