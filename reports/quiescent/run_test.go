package quiescent

import (
	"context"
	"math"
	"slices"
	"sync"
	"testing"

	"quietcross/corpus/render"
	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
	"quietcross/stage/device"
)

func within(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: got %.8g, want %.8g within %.2g", what, got, want, relative)
	}
}

// idealPair is two devices with the exponential law alone.
func idealPair(t *testing.T, change func(*stage.Spec)) stage.Spec {
	t.Helper()
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	spec.Source.Ohms = 0
	spec.Emitter.Ohms = 0.22
	for _, d := range []*float64{
		&spec.Upper.ForwardGain, &spec.Upper.Leakage, &spec.Upper.Early, &spec.Upper.Knee,
		&spec.Upper.EmitterOhms, &spec.Upper.CollectorOhms,
	} {
		*d = 0
	}
	spec.Upper.BaseOhms = 1e-3
	spec.Lower = spec.Upper
	if change != nil {
		change(&spec)
	}
	return spec
}

func material(t *testing.T, names ...string) []render.Source {
	t.Helper()
	var sources []render.Source
	for _, name := range names {
		m, err := signal.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		sources = append(sources, render.Material{Material: m, Rate: 48000, Seed: 1})
	}
	return sources
}

// asked are the default options on pieces of built-in material.
func asked(t *testing.T, spec stage.Spec, names ...string) Options {
	t.Helper()
	o := DefaultOptions(spec)
	o.Sources = material(t, names...)
	return o
}

func climb(t *testing.T, o Options) *climber {
	t.Helper()
	if err := o.Check(); err != nil {
		t.Fatal(err)
	}
	c, err := newClimber(&o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// onShortTone are the default options of a built-in stage on 0.4 s of the tone, 30 dB
// down, with a title that tries to be markup.
func onShortTone(name string) (Options, error) {
	spec, err := stage.Lookup(name)
	if err != nil {
		return Options{}, err
	}
	m, err := signal.Lookup("tone")
	if err != nil {
		return Options{}, err
	}
	spec.Title, m.Seconds = "<img src=x>", 0.4
	o := DefaultOptions(spec)
	o.Sources = []render.Source{render.Material{Material: m, Rate: 48000, Seed: 1}}
	o.Levels, o.Units = []level.DB{-30}, 0
	return o, nil
}

// shortly is onShortTone.
func shortly(t *testing.T, name string) Options {
	t.Helper()
	o, err := onShortTone(name)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// A pairRun is a stage worked out, with what progress it told.
type pairRun struct {
	options Options
	result  *Result
	shares  []float64
}

// pairWorkedOut is pair-12w with twelve units, and pairTooHot the same on too small a
// sink: each is worked out once for all tests.
var (
	pairWorkedOut = sync.OnceValues(func() (*pairRun, error) {
		return runPair(func(o *Options) { o.Units, o.Seed, o.Workers = 12, 3, 2 })
	})
	pairTooHot = sync.OnceValues(func() (*pairRun, error) {
		return runPair(func(o *Options) { o.Spec.Thermal.SinkToAir = 14 })
	})
)

func runPair(change func(*Options)) (*pairRun, error) {
	o, err := onShortTone("pair-12w")
	if err != nil {
		return nil, err
	}
	change(&o)
	run := &pairRun{options: o, shares: []float64{0}}
	o.Progress = func(share float64) { run.shares = append(run.shares, share) }
	run.result, err = Run(context.Background(), o)
	return run, err
}

// TestOptimum holds the current that is recommended as the optimum to IQ RE = kT/q (B.
// M. Oliver, Hewlett-Packard Journal, February 1971), and the solved output resistance at
// rest there to RE.
func TestOptimum(t *testing.T) {
	c := climb(t, asked(t, idealPair(t, nil), "tone"))
	r := Recommendation{Optimum: c.stage.OptimumQuiescent()}
	want := 25.69258e-3 / 0.22 // kT/q at 25 C (SI 2019 constants)
	within(t, "optimum", r.Optimum, want, 0.01)
	b, err := c.stage.Set(stage.Held(r.Optimum))
	if err != nil {
		t.Fatal(err)
	}
	_, gain, err := b.Transfer(0)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "output resistance at rest", 8*(1/gain-1), 0.22, 0.01)
}

// TestClassA holds the class-A limit to (2 IQ)^2 RL/2, the current of class A to
// half the peak load current, and idle dissipation to 2 VCC IQ (Sedra and Smith, Microelectronic
// Circuits, class AB).
func TestClassA(t *testing.T) {
	c := climb(t, asked(t, idealPair(t, nil), "tone"))
	const iq = 0.3
	r := c.rung(iq)
	if r.Refusal != "" {
		t.Fatal(r.Refusal)
	}
	within(t, "class-A power", r.ClassA, 4*iq*iq*8/2, 1e-6)
	b, err := c.stage.Set(stage.Held(iq))
	if err != nil {
		t.Fatal(err)
	}
	p, err := b.PowerOf(stage.Sine(0))
	if err != nil {
		t.Fatal(err)
	}
	within(t, "idle supply power", p.Supply, 2*20.6*iq, 1e-6)
	within(t, "idle dissipation", p.Dissipation(), 2*iq*(20.6-iq*0.22), 1e-6)
	built, err := c.stage.Set(stage.AsBuilt())
	if err != nil {
		t.Fatal(err)
	}
	out, _, err := built.Transfer(c.bench.Ladder().Drive())
	if err != nil {
		t.Fatal(err)
	}
	within(t, "class-A current", c.classA, out/8/2, 1e-6)
}

// TestClassB holds the dissipation of a barely biased pair with small emitter
// resistors to the class-B design example of Sedra and Smith (20 W, 8 ohm, 23 V:
// 16.37 W a rail at 17.889 V peak; maximum 6.70 W a device; inputs from memory).
func TestClassB(t *testing.T) {
	spec := idealPair(t, func(s *stage.Spec) {
		s.Supply.Positive, s.Supply.Negative = 23, 23
		s.Emitter.Ohms = 1e-3
	})
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	b, err := st.Set(stage.Held(1e-3))
	if err != nil {
		t.Fatal(err)
	}
	// The follower's input has to lead its output by about VBE less the bias.
	p, err := b.PowerOf(stage.Sine(17.889))
	if err != nil {
		t.Fatal(err)
	}
	within(t, "supply power", p.Supply, 2*16.37, 0.03)
	p, err = b.PowerOf(stage.Sine(2 * 23 / math.Pi))
	if err != nil {
		t.Fatal(err)
	}
	within(t, "maximum dissipation of a device", p.Devices[b.Outputs()[0]].Mean, 6.70, 0.01)
}

// TestStability holds the loop gain taken from the solved stage with an ideal source to
// theta VCE |dVBE/dT|/(VT/IC + RE) (derived in stage/heat; dVBE/dT = (VBE - EG - 3 VT)/T),
// and the stage's own diodes to the part of the resistance that their coupling leaves.
func TestStability(t *testing.T) {
	for _, row := range []struct {
		coupling float64
		setting  func(float64) stage.Setting
		within   float64
	}{{0, stage.Held, 0.01}, {0.5, stage.Quiescent, 0.1}} {
		spec := idealPair(t, func(s *stage.Spec) {
			s.Supply.Positive, s.Supply.Negative = 30, 30
			s.Thermal.Coupling = row.coupling
			s.Thermal.SinkToAir = 1
		})
		c := climb(t, asked(t, spec, "tone"))
		e, err := c.ladder.At(row.setting(0.05))
		if err != nil {
			t.Fatal(err)
		}
		idle, err := e.Settle(c.stage.Conditions(stage.Sine(0)))
		if err != nil {
			t.Fatal(err)
		}
		kelvin, ic := idle.Junction, idle.Quiescent
		vt := device.ThermalVoltage(kelvin)
		law := device.Junction{Saturation: spec.Upper.Saturation, Emission: 1, Exponent: 3, Gap: 1.11, Reference: device.RoomKelvin}
		vbe := vt * math.Log(ic/law.At(kelvin).Saturation)
		slope := math.Abs((vbe - 1.11 - 3*vt) / kelvin)
		theta := 4.5 + (1-row.coupling)*2
		within(t, "loop gain", *idle.LoopGain, theta*(30-ic*0.22)*slope/(vt/ic+0.22), row.within)
		within(t, "loop gain of a junction", *idle.JunctionLoopGain, 4.5*(30-ic*0.22)*slope/(vt/ic+0.22), row.within)
	}
}

// TestRunaway takes the sink to where the closed form puts the loop gain at rest
// well over 1: the stage must not be found to settle.
func TestRunaway(t *testing.T) {
	spec := idealPair(t, func(s *stage.Spec) {
		s.Supply.Positive, s.Supply.Negative = 30, 30
		s.Thermal.Coupling, s.Thermal.SinkToAir = 0, 10
	})
	c := climb(t, asked(t, spec, "tone"))
	r := c.rung(0.05) // 24.5 K/W where 12.33 is the limit
	if !r.Idle.Runaway() || c.meets(&r) != BindsStability {
		t.Errorf("idle %+v binds %q", r.Idle, c.meets(&r))
	}
}

// TestMonteCarlo holds mean and spread of drawn units to first-order propagation
// through VT ln(IQ/IS) + IQ RE = VBB/2 of both sides, within sampling error: for a
// fixed bias d ln IQ = [VT d ln IS - IQ dRE]/(VT + IQ RE), means over both devices;
// for a trimmed one d ln IQ = -dRE/RE.
func TestMonteCarlo(t *testing.T) {
	const units, iq = 4000, 0.1
	spec := idealPair(t, nil)
	tol := Tolerances{Lot: 0.03, Mismatch: 0.03, Resistor: 0.02}
	var fixed, trimmed []float64
	nominal := solved(t, spec, stage.Held(iq))
	limits := DefaultLimits(spec)
	for i := range units {
		u := draw(spec, tol, limits, 7, uint64(i))
		fixed = append(fixed, math.Log(solved(t, u.spec, stage.Bias(nominal.Bias)).Quiescent))
		trimmed = append(trimmed, math.Log(u.trimmed(spec, iq, 2)))
	}
	vt := 25.69258e-3
	re, drop := 0.02/math.Sqrt(3), iq*0.22 // deviation of an even spread
	sigma := math.Sqrt(vt*vt*(0.03*0.03+0.03*0.03/2)+drop*drop*re*re/2) / (vt + drop)
	sampling := 4 / math.Sqrt(2*units) // four standard errors of a deviation
	mean, deviation := moments(fixed)
	within(t, "deviation, fixed bias", deviation, sigma, sampling)
	if math.Abs(mean-math.Log(iq)) > 4*sigma/math.Sqrt(units)+sigma*sigma {
		t.Errorf("mean of ln IQ, fixed bias: %g off, deviation %g", mean-math.Log(iq), sigma)
	}
	mean, deviation = moments(trimmed)
	within(t, "deviation, trimmed", deviation, re/math.Sqrt2, sampling)
	if math.Abs(mean-math.Log(iq)) > 4*re/math.Sqrt(units)+re*re {
		t.Errorf("mean of ln IQ, trimmed: %g off", mean-math.Log(iq))
	}
}

func solved(t *testing.T, spec stage.Spec, s stage.Setting) stage.OperatingPoint {
	t.Helper()
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	b, err := st.Set(s)
	if err != nil {
		t.Fatal(err)
	}
	return b.Point()
}

func moments(x []float64) (mean, deviation float64) {
	n := float64(len(x))
	for _, v := range x {
		mean += v / n
	}
	for _, v := range x {
		deviation += (v - mean) * (v - mean) / (n - 1)
	}
	return mean, math.Sqrt(deviation)
}

// TestWhole runs a stage whole and holds the recommendation to its own rungs, to
// a second run with another number of workers, and to the findings of a separate
// search at the recommended current.
func TestWhole(t *testing.T) {
	run, err := pairWorkedOut()
	if err != nil {
		t.Fatal(err)
	}
	o, r, shares, spec := run.options, run.result, run.shares, run.options.Spec
	if !slices.IsSorted(shares) || shares[len(shares)-1] != 1 {
		t.Errorf("progress %v", shares)
	}
	rec := r.Recommendation
	if !rec.Met || rec.Set < rec.Minimum || rec.Set > rec.Maximum || rec.MaximumBy == BindsNothing {
		t.Fatalf("recommendation %+v", rec)
	}
	for _, rung := range r.Rungs {
		heard, ok := rung.Worst()
		if rung.Refusal != "" || !ok {
			t.Errorf("%g A: %q, heard %v", rung.Quiescent, rung.Refusal, ok)
		}
		if (rung.Quiescent >= rec.Minimum) != (heard.Detection <= 0.5) {
			t.Errorf("%g A: detection %g, minimum %g A", rung.Quiescent, heard.Detection, rec.Minimum)
		}
		if rung.Quiescent <= rec.Maximum && rung.Sine.Junction > spec.Thermal.MaximumJunction {
			t.Errorf("%g A: junction at %g K within the range", rung.Quiescent, rung.Sine.Junction)
		}
	}
	if rec.Minimum > 0 && !(rec.Expected.Low < rec.Minimum && rec.Expected.High > rec.Minimum) {
		t.Errorf("minimum %g A, expected %+v", rec.Minimum, rec.Expected)
	}
	again := o
	again.Workers = 1
	second, err := Run(t.Context(), again)
	if err != nil {
		t.Fatal(err)
	}
	if second.Recommendation.Set != rec.Set || !slices.Equal(second.Yield.Trimmed.Warm, r.Yield.Trimmed.Warm) {
		t.Error("the result depends on the number of workers")
	}
	bench, err := render.NewBench(render.Options{Spec: spec, Levels: []level.DB{-30}, Match: render.MatchGain})
	if err != nil {
		t.Fatal(err)
	}
	cases, err := audibility.Cases(bench, o.Sources, o.Levels, nil)
	if err != nil {
		t.Fatal(err)
	}
	f, err := audibility.ExamineAt(t.Context(), cases[0], []float64{rec.Set}, audibility.DefaultOptions(0, 0))
	if err != nil {
		t.Fatal(err)
	}
	heard, _ := r.Chosen.Worst()
	if math.Abs(f.Curve[0].DPrime-heard.DPrime) > 1e-9 {
		t.Errorf("heard %+v, a search of its own says %+v", heard, f.Curve[0])
	}
}

// TestNoRange gives a stage too small a sink and expects remedies that were
// computed: each that claims to work must, tried here.
func TestNoRange(t *testing.T) {
	run, err := pairTooHot()
	if err != nil {
		t.Fatal(err)
	}
	r := run.result
	if r.Recommendation.Met || r.Chosen != nil || len(r.Remedies) < 4 {
		t.Fatalf("recommendation %+v, %d remedies", r.Recommendation, len(r.Remedies))
	}
	sink := r.Remedies[0]
	if sink.Key != "thermal.sink_to_air" || !sink.Works || sink.To >= 14 {
		t.Fatalf("remedy %+v", sink)
	}
	for _, c := range []struct {
		ohms float64
		want bool
	}{{sink.To, true}, {sink.To * 1.05, false}} {
		changed := run.options
		changed.Spec.Thermal.SinkToAir = c.ohms
		other := climb(t, changed)
		rung := other.rung(sink.Quiescent)
		if got := other.meets(&rung) == BindsNothing; got != c.want {
			t.Errorf("sink of %g K/W: meets %v (%s)", c.ohms, got, other.meets(&rung))
		}
	}
}

func TestRefusals(t *testing.T) {
	spec := idealPair(t, nil)
	for name, spoil := range map[string]func(*Options){
		"no material":       func(o *Options) { o.Sources = nil },
		"no levels":         func(o *Options) { o.Levels = nil },
		"no tones":          func(o *Options) { o.ToneLevels = nil },
		"drive of zero":     func(o *Options) { o.Drive = new(0.0) },
		"110.1 dB SPL":      func(o *Options) { o.Heard.Playback = 110.1 },
		"no number SPL":     func(o *Options) { o.Heard.Playback = level.DB(math.NaN()) },
		"detection 1":       func(o *Options) { o.Limits.Detection = 1 },
		"detection 0":       func(o *Options) { o.Limits.Detection = 0 },
		"loop gain 1":       func(o *Options) { o.Limits.Feedback = 1 },
		"loop gain 0":       func(o *Options) { o.Limits.Feedback = 0 },
		"air of 100.1 C":    func(o *Options) { o.Limits.Hottest = device.ZeroCelsius + 100.1 },
		"air of -40.1 C":    func(o *Options) { o.Limits.Coldest = device.ZeroCelsius - 40.1 },
		"junction of 251 C": func(o *Options) { o.Limits.Junction = device.ZeroCelsius + 251 },
		"junction as air":   func(o *Options) { o.Limits.Junction = o.Limits.Hottest },
		"negative idle":     func(o *Options) { o.Limits.Idle = new(-0.1) },
		"resistor 0.51":     func(o *Options) { o.Tolerances.Resistor = 0.51 },
		"lot 2.1":           func(o *Options) { o.Tolerances.Lot = 2.1 },
		"100,001 units":     func(o *Options) { o.Units = 100_001 },
		"negative units":    func(o *Options) { o.Units = -1 },
		"no workers":        func(o *Options) { o.Workers = 0 },
	} {
		o := asked(t, spec, "tone")
		spoil(&o)
		if _, err := Run(t.Context(), o); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// TestIdleLimit sets a limit of idle power that allows 0.7 of the current that hearing
// asks for, and holds the remedies for it, a higher limit and feedback, to a stage made so.
func TestIdleLimit(t *testing.T) {
	free, err := pairWorkedOut()
	if err != nil {
		t.Fatal(err)
	}
	o := shortly(t, "pair-12w")
	nearly := climb(t, o).rung(0.7 * free.result.Recommendation.Minimum)
	limit := nearly.Idle.Supply
	o.Limits.Idle = &limit
	r, err := Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	if r.Recommendation.Met || r.Recommendation.MaximumBy != BindsIdle {
		t.Fatalf("recommendation %+v", r.Recommendation)
	}
	byKey := map[string]Remedy{}
	for _, m := range r.Remedies {
		byKey[m.Key] = m
	}
	idle, feedback := byKey["limit of idle power"], byKey["feedback.gain"]
	if !idle.Works || !feedback.Works || !feedback.Heard {
		t.Fatalf("remedies %+v", r.Remedies)
	}
	o.Limits.Idle = new(idle.To * 1.001)
	if again, err := Run(t.Context(), o); err != nil || !again.Recommendation.Met {
		t.Errorf("with %g W: %v, %+v", *o.Limits.Idle, err, again.Recommendation)
	}
	tight := o.Spec
	tight.Feedback.Gain = feedback.To
	bench, err := o.bench(tight)
	if err != nil {
		t.Fatal(err)
	}
	heard, err := o.hear(t.Context(), bench, feedback.Quiescent)
	if err != nil {
		t.Fatal(err)
	}
	if got := worst(heard); got.DPrime > o.under() || math.Abs(got.Detection-feedback.Detection) > 1e-9 {
		t.Errorf("with feedback d' is %g, at most %g with its margin; the remedy says %g, here %g", got.DPrime, o.under(), feedback.Detection, got.Detection)
	}
}
