package quiescent

import (
	"errors"
	"math"
	"slices"
	"testing"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
	"quietcross/stage/device"
)

// worstOf returns the maximum over edges from a to b, by equal ratios.
func worstOf(a, b float64, of func(edge float64) float64) float64 {
	most := 0.0
	for i := range 997 {
		most = max(most, of(a*math.Pow(b/a, (float64(i)+0.5)/997)))
	}
	return most
}

// latticeRatio is that of neighbouring currents of the sweep.
var latticeRatio = math.Pow(10, 1./audibility.DefaultPerDecade)

// A bisection ends within its tolerance, and not a step later than that asks for: each
// costs a stage settled or rendered.
func TestBisections(t *testing.T) {
	safe := worstOf(1, latticeRatio, func(edge float64) float64 {
		last, binds := lastSafe(1, latticeRatio, BindsJunction, func(q float64) Binding {
			return map[bool]Binding{true: BindsNothing, false: BindsJunction}[q <= edge]
		})
		if last > edge || binds != BindsJunction {
			t.Fatalf("edge at %g: %g, %s", edge, last, binds)
		}
		return edge/last - 1
	})
	cross := worstOf(1.01, 19.9, func(edge float64) float64 {
		at, err := crossing(func(q float64) (float64, error) { return q - edge, nil }, 1, 20)
		if err != nil {
			t.Fatal(err)
		}
		return math.Abs(at/edge - 1)
	})
	change := worstOf(2, 12, func(edge float64) float64 {
		at := minimumChange(14, 0.01, func(v float64) bool { return v <= edge })
		if at > edge {
			t.Fatalf("edge at %g: %g", edge, at)
		}
		return 1 - at/edge
	})
	for _, c := range []struct {
		name      string
		got, most float64
	}{{"maximum safe current", safe, 0.01}, {"crossing", cross, 0.5e-4}, {"change of a part", change, 0.02}} {
		if c.got > c.most || c.got < c.most/2 {
			t.Errorf("%s: up to %g off, want %g to %g", c.name, c.got, c.most/2, c.most)
		}
	}
	if at, binds := lastSafe(0, 1, BindsIdle, nil); at != 0 || binds != BindsIdle {
		t.Errorf("from nothing: %g, %s", at, binds)
	}
}

// Distortion that rises by a tenth with more current is warned of, and detection that
// rises to half of the limit.
func TestWarnings(t *testing.T) {
	for thd, want := range map[float64]int{1.09e-3: 0, 1.11e-3: 1} {
		rungs := []Rung{{Quiescent: 0.1, Tones: []Tone{{THD: 1e-3}}}, {Quiescent: 0.2, Tones: []Tone{{THD: thd}}}}
		if got := overBias(rungs, 0); len(got) != want {
			t.Errorf("THD from 0.001 to %g: %q", thd, got)
		}
	}
	for p, want := range map[float64]int{0.24: 0, 0.26: 1} {
		f := audibility.Finding{
			Limit: 0.5, Curve: []audibility.Point{{Quiescent: 0.1}, {Quiescent: 0.2, Detection: p}},
			Rises: []audibility.Rise{{From: 0.1, To: 0.2, By: p}},
		}
		if got := rises([]audibility.Finding{f}); len(got) != want {
			t.Errorf("detection up to %g: %q", p, got)
		}
	}
}

// The sweep is of the lattice, from a thousandth of the optimum, or of the maximum where
// there is none below that, to the maximum: five currents a decade.
func TestSweepByHand(t *testing.T) {
	for _, c := range []struct {
		optimum, maximum, low, high float64
		points                      int
	}{
		{0, 0.5, 3.98e-4, 0.631, 17},
		{0.0734, 1.08, 6.31e-5, 1.58, 23},
		{0.1, 1, 1e-4, 1, 21},
		{2, 1, 1e-3, 1, 16},
	} {
		list := sweep(c.optimum, c.maximum, deepSweep)
		if low, high := list[0], list[len(list)-1]; math.Abs(low/c.low-1) > 0.01 || math.Abs(high/c.high-1) > 0.01 || len(list) != c.points {
			t.Errorf("%+v: %g to %g in %d", c, low, high, len(list))
		}
	}
	if first := sweep(0.1, 1, sweepDepth)[0]; math.Abs(first/1e-3-1) > 1e-9 {
		t.Errorf("the first sweep begins at %g of the optimum, want a hundredth", first/0.1)
	}
}

// The minimum current is one at which nothing is heard: a window in which one piece is
// not heard does not count where another is, and a piece heard at every current leaves
// none.
func TestMinimumIsClearOfEveryPiece(t *testing.T) {
	piece := func(name string, audible bool, at ...float64) audibility.Finding {
		f := audibility.Finding{Material: name, Limit: 0.5, Curve: []audibility.Point{{Detection: map[bool]float64{true: 0.9}[audible]}}}
		for _, q := range at {
			audible = !audible
			f.Crossings = append(f.Crossings, audibility.Crossing{Quiescent: q, Rising: audible})
		}
		return f
	}
	for _, c := range []struct {
		pieces  []audibility.Finding
		minimum float64
		by      string
		known   bool
	}{
		{[]audibility.Finding{piece("a", true, 1e-3), piece("b", true, 2e-3)}, 2e-3, "b", true},
		{[]audibility.Finding{piece("a", true, 1e-3, 1.5e-3, 4e-3), piece("b", true, 2e-3)}, 4e-3, "a", true},
		{[]audibility.Finding{piece("a", true, 1e-3, 5e-3), piece("b", true, 2e-3)}, 2e-3, "b", true},
		{[]audibility.Finding{piece("a", false)}, 0, "", true},
		{[]audibility.Finding{piece("a", true)}, 0, "a", false},
		{[]audibility.Finding{piece("a", true, 1e-3, 2e-3), piece("b", true, 3e-3)}, 0, "a", false},
		{[]audibility.Finding{{Material: "a"}}, 0, "a", false},
	} {
		minimum, by, known := minimumInaudible(c.pieces)
		name := ""
		if by != nil {
			name = by.Material
		}
		if minimum != c.minimum || name != c.by || known != c.known {
			t.Errorf("%g by %q, %v; want %g by %q, %v", minimum, name, known, c.minimum, c.by, c.known)
		}
	}
}

// A stage whose current rises tenfold as it warms can still be set cold, one that falls
// to half too, and none that moves further.
func TestColdFor(t *testing.T) {
	for ratio, found := range map[float64]bool{9.9: true, 10.1: false, 0.51: true, 0.49: false} {
		at, err := coldFor(0.1, func(q float64) (float64, error) { return ratio*q - 0.1, nil })
		if err != nil || (at > 0) != found || found && math.Abs(at*ratio/0.1-1) > 1e-4 {
			t.Errorf("warms up by %g: %g A, %v", ratio, at, err)
		}
	}
	wrong := errors.New("no operating point")
	if _, err := coldFor(0.1, func(float64) (float64, error) { return 0, wrong }); !errors.Is(err, wrong) {
		t.Errorf("error %v", err)
	}
}

// What is legal at its ends; TestRefusals goes beyond them.
func TestLegalEnds(t *testing.T) {
	for name, change := range map[string]func(*Options){
		"air of -40 C":      func(o *Options) { o.Limits.Coldest = device.ZeroCelsius - 40 },
		"air of 100 C":      func(o *Options) { o.Limits.Hottest = device.ZeroCelsius + 100 },
		"junction of 250 C": func(o *Options) { o.Limits.Junction = device.ZeroCelsius + 250 },
		"no idle power":     func(o *Options) { o.Limits.Idle = new(0.0) },
		"detection":         func(o *Options) { o.Limits.Detection = 0.999 },
		"loop gain":         func(o *Options) { o.Limits.Feedback = 0.999 },
		"100,000 units":     func(o *Options) { o.Units = 100_000 },
		"one worker":        func(o *Options) { o.Workers = 1 },
		"tolerances":        func(o *Options) { o.Tolerances = Tolerances{2, 2, 2, 2, 0.5} },
	} {
		o := asked(t, idealPair(t, nil), "tone")
		change(&o)
		if err := o.Check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, spoil := range map[string]func(*Options){
		"detection 1": func(o *Options) { o.Limits.Detection = 1 },
		"loop gain 1": func(o *Options) { o.Limits.Feedback = 1 },
		"no workers":  func(o *Options) { o.Workers = 0 },
		"-40.1 C":     func(o *Options) { o.Limits.Coldest = device.ZeroCelsius - 40.1 },
		"100.1 C":     func(o *Options) { o.Limits.Hottest = device.ZeroCelsius + 100.1 },
		"250.1 C":     func(o *Options) { o.Limits.Junction = device.ZeroCelsius + 250.1 },
	} {
		o := asked(t, idealPair(t, nil), "tone")
		if spoil(&o); o.Check() == nil { // before another package refuses it
			t.Errorf("%s was taken", name)
		}
	}
	for i, spoil := range []func(*Tolerances){
		func(l *Tolerances) { l.Mismatch = 2.1 }, func(l *Tolerances) { l.Threshold = 2.1 }, func(l *Tolerances) { l.Gain = 2.1 },
	} {
		tolerances := UsualTolerances()
		spoil(&tolerances)
		if tolerances.check() == nil {
			t.Errorf("tolerance %d of 2.1 was taken", i)
		}
	}
}

// The defaults are those that are documented.
func TestDefaults(t *testing.T) {
	o := DefaultOptions(idealPair(t, nil))
	l := o.Limits
	if l.Coldest != device.ZeroCelsius+10 || l.Hottest != device.ZeroCelsius+40 || l.Detection != 0.5 || l.Feedback != 0.5 || l.Idle != nil {
		t.Errorf("limits %+v", l)
	}
	if o.Units != 100 || o.Heard.Playback != 92 || o.Heard.RoomNR != 15 || len(o.ToneLevels) != 3 || o.ToneLevels[1] != level.DB(-20) || o.ToneLevels[2] != level.DB(-40) {
		t.Errorf("options %+v", o)
	}
	// Common practice: base-emitter voltages of different lots lie within 20 mV or so
	// (two deviations), of a pair 2 mV (one); gains within a factor of two for most (two).
	usual, vt := UsualTolerances(), 25.69e-3
	within(t, "between lots", 2*usual.Lot*vt, 20e-3, 0.25)
	within(t, "within a pair", usual.Mismatch*vt, 2e-3, 0.25)
	within(t, "gain", 2*usual.Gain, math.Ln2, 0.25)
	within(t, "threshold", usual.Threshold, 0.2, 1e-9)
	within(t, "resistor", usual.Resistor, 0.05, 1e-9)
}

// Resistors are spread evenly to the ends of their tolerance; thresholds by their
// deviation together, and a fifth of it each.
func TestDraw(t *testing.T) {
	spec := idealPair(t, nil)
	spec.UpperFET.Threshold, spec.LowerFET.Threshold = 3, 3
	most, together, apart := 0.0, []float64(nil), []float64(nil)
	for i := range 4000 {
		u := draw(spec, Tolerances{Threshold: 0.2, Resistor: 0.05}, DefaultLimits(spec), 5, uint64(i))
		most = max(most, math.Abs(u.upper/0.22-1), math.Abs(u.lower/0.22-1))
		together = append(together, (u.spec.UpperFET.Threshold+u.spec.LowerFET.Threshold)/2)
		apart = append(apart, u.spec.UpperFET.Threshold-u.spec.LowerFET.Threshold)
	}
	if most > 0.05*(1+1e-12) || most < 0.0499 {
		t.Errorf("resistors up to %g off", most)
	}
	_, deviation := moments(together)
	within(t, "thresholds together", deviation, 0.2*math.Sqrt(1+0.04/2), 0.06)
	_, deviation = moments(apart)
	within(t, "thresholds apart", deviation, 0.04*math.Sqrt2, 0.06)
}

// Emitter resistors of 1.2 mohm are the least that are told apart: 1 mohm in common and
// 0.1 mohm to spare inside each device, on both of two sides.
func TestPlace(t *testing.T) {
	for ohms, placed := range map[float64]bool{1.15e-3: false, 1.3e-3: true} {
		u := unit{spec: stage.Spec{}, upper: ohms, lower: 1.01 * ohms}
		u.spec.Emitter.Ohms = ohms
		u.place()
		s := &u.spec
		if got := s.Emitter.Ohms != ohms; got != placed {
			t.Errorf("%g ohm: placed %v", ohms, got)
		}
		if placed {
			within(t, "in common", s.Emitter.Ohms, ohms-0.2e-3, 1e-9)
			within(t, "upper", s.Emitter.Ohms+s.Upper.EmitterOhms, ohms, 1e-9)
			within(t, "lower", s.Emitter.Ohms+s.Lower.EmitterOhms, 1.01*ohms, 1e-9)
		}
	}
}

// Wilson's interval (1927) with 1.96: 5 of 10 is 0.2366 to 0.7634 by his formula, 0 of
// 10 up to 1.96²/(10 + 1.96²).
func TestWilson(t *testing.T) {
	low, high := wilson(0.5, 10)
	within(t, "5 of 10, low", low, 0.2366, 1e-3)
	within(t, "5 of 10, high", high, 0.7634, 1e-3)
	low, high = wilson(0, 10)
	if within(t, "0 of 10", high, 3.8416/13.8416, 1e-3); low != 0 {
		t.Errorf("from %g", low)
	}
	b := batch([]outcome{{cold: 1, fails: BindsNothing}, {cold: 2, fails: BindsNothing}, {cold: 3, fails: BindsIdle}})
	within(t, "mean", b.Mean, 2, 1e-12)
	within(t, "deviation", b.Deviation, 1, 1e-12)
	within(t, "meet", b.Meet, 2.0/3, 1e-12)
}

// How far each remedy goes.
func TestHowFarRemediesGo(t *testing.T) {
	for ohms, want := range map[float64]float64{0.22: 2.2, 0.05: 1, 0: 1} {
		list := changes(idealPair(t, func(s *stage.Spec) { s.Emitter.Ohms = ohms }))
		if list[0].limit != 0.01 || list[1].limit != 1 || math.Abs(list[2].limit/want-1) > 1e-12 {
			t.Errorf("emitter resistors of %g: %g K/W, coupling %g, %g ohm", ohms, list[0].limit, list[1].limit, list[2].limit)
		}
	}
	for have, want := range map[float64]float64{0: 1000, 90: 1000, 200: 2000} {
		got := feedbackGains(have)
		if len(got) != 3 || got[0] != want || got[1] != 10*want || got[2] != 100*want {
			t.Errorf("gain of %g: tries %v", have, got)
		}
	}
	if got := otherEmitters(0.22); len(got) != 2 || got[0] != 0.11 || got[1] != 0.44 || otherEmitters(0) != nil {
		t.Errorf("emitter resistors %v", got)
	}
}

// An hour of a soft piece in class A draws 3,600 times the power drawn at rest.
func TestHour(t *testing.T) {
	o := asked(t, idealPair(t, nil), "tone")
	o.Levels = []level.DB{-30}
	r := climb(t, o).rung(0.3)
	within(t, "an hour", r.HourJoules, 3600*r.Rest.Supply, 0.02)
}

// One device hands nothing over, two do.
func TestBalance(t *testing.T) {
	if at, err := (&climber{devices: 1}).balance(); at != 0 || err != nil {
		t.Errorf("one device: %g A, %v", at, err)
	}
	st, err := stage.New(idealPair(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	if at, err := (&climber{devices: 2, stage: st}).balance(); !(at > 0) || err != nil {
		t.Errorf("a pair: %g A, %v", at, err)
	}
}

// A threshold between no current and the first of the sweep asks for a deeper one.
func TestShallow(t *testing.T) {
	limit := hearing.Sensitivity(0.5)
	point := func(quiescent, part float64) audibility.Point {
		return audibility.Point{Quiescent: quiescent, DPrime: part * limit}
	}
	for _, row := range []struct {
		curve []audibility.Point
		want  bool
	}{
		{nil, false},
		{[]audibility.Point{point(0, 1.1), point(1e-3, 0.9), point(2e-3, 1.1)}, true},
		{[]audibility.Point{point(1e-3, 0.9), point(2e-3, 1.1)}, true},
		{[]audibility.Point{point(0, 0.9), point(1e-3, 0.9)}, false},
		{[]audibility.Point{point(0, 1.1), point(1e-3, 1.1), point(2e-3, 0.9)}, false},
	} {
		if got := shallow([]audibility.Finding{{}, {Limit: 0.5, Curve: row.curve}}); got != row.want {
			t.Errorf("%v: called shallow: %v", row.curve, got)
		}
	}
}

// A part over a gigohm is told as not fitted, and never by a value nobody can buy.
func TestPartIsSaidAsFitted(t *testing.T) {
	for ohms, want := range map[float64]string{0.9e9: "trimmer of 900\u00a0MΩ", 1.1e9: "no trimmer", 220: "trimmer of 220\u00a0Ω"} {
		if got := (&Parts{Name: "trimmer", Unit: "ohm", Value: ohms}).Part(); got != want {
			t.Errorf("%g ohm is said as %q, want %q", ohms, got, want)
		}
	}
}

// A probability under 0.01 % is told as that, and a loop gain of one has no end to its
// amplification.
func TestWordsOfChance(t *testing.T) {
	for p, want := range map[float64]string{0.9e-4: "under 0.01\u00a0%", 1.1e-4: "0.011\u00a0%"} {
		if got := chance(p); got != want {
			t.Errorf("%g: %q", p, got)
		}
	}
	for gain, want := range map[float64]float64{0.99: 100, 1: math.Inf(1), 1.5: math.Inf(1), -1: 1} {
		var r Rung
		r.Idle.LoopGain, r.Idle.JunctionLoopGain = &gain, &gain
		if got := r.amplification(); got != want && math.Abs(got/want-1) > 1e-9 {
			t.Errorf("loop gain %g: %g", gain, got)
		}
	}
}

// THD is of the decades about 1 kHz.
func TestFrequencies(t *testing.T) {
	if want := []float64{100, 1000, 10_000}; !slices.Equal(Frequencies, want) {
		t.Errorf("%v Hz", Frequencies)
	}
}
