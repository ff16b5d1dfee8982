package quiescent

import (
	"math"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// ladderOf is a climber that knows tones of one level, and no material.
func ladderOf(t *testing.T, spec stage.Spec, drive *float64) *climber {
	t.Helper()
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	ladder, err := bias.NewLadder(st, drive)
	if err != nil {
		t.Fatal(err)
	}
	o := DefaultOptions(spec)
	o.ToneLevels = []level.DB{-20}
	return &climber{options: &o, stage: st, ladder: ladder}
}

// Distortion under a billionth is rounding, and no heat is paid for less.
func TestRoundingHasNoPrice(t *testing.T) {
	price := func(thd float64) float64 { r := rungOf(0.1, 1, thd, 0); return r.price() }
	if a, b := price(0.9e-9), price(0.1e-9); a != b {
		t.Errorf("0.1e-9 is worth %g doublings of power over 0.9e-9", a-b)
	}
	if a, b := price(1.5e-9), price(1.1e-9); math.Abs(a-b-math.Log2(1.5/1.1)) > 1e-9 {
		t.Errorf("1.1e-9 is worth %g doublings of power over 1.5e-9", a-b)
	}
}

// The current to set has neighbours of a quarter less and more, and what lies a millionth
// beyond an end of the range of choice lies in it.
func TestNeighboursOfTheCurrentSet(t *testing.T) {
	rung := func(quiescent float64) Rung {
		g := rungOf(quiescent, quiescent, 1e-3, 0)
		g.Use.Quiet = quiescent
		return g
	}
	for off, met := range map[float64]bool{0: true, 0.9e-6: true, 1.1e-6: false} {
		for _, at := range []float64{0.1 / (1 + off), 0.2 * (1 + off)} {
			c := &climber{options: &Options{Library: &Library{}}, low: 9, high: 9} // all else is beyond the sweep
			result := &Result{Rungs: []Rung{rung(at)}}
			result.Rungs[0].Use.Own.Low = 0.1
			r := &result.Recommendation
			*r = Recommendation{Margin: 0.1, MarginKnown: true, Best: 0.2, Maximum: 1}
			if err := c.settle(t.Context(), r, result); err != nil {
				t.Fatal(err)
			}
			if r.Met != met {
				t.Errorf("%g A of 0.1 to 0.2: met %v", at, r.Met)
			}
			if met && (math.Abs(r.Down/at-0.75) > 1e-12 || math.Abs(r.Up/at-1.25) > 1e-12) {
				t.Errorf("%g A has neighbours of %g and %g", at, r.Down, r.Up)
			}
			if why := map[bool]Reason{true: ByBest, false: ByHeat}[at > 0.15]; met && len(result.Rungs) > 1 && r.Why != why {
				t.Errorf("%g A by %s", at, r.Why)
			}
		}
	}
}

// Between two rungs an edge of what is heard in use is told to 2 %, and 2 % inside of that.
func TestEdgesOfUseAreFine(t *testing.T) {
	nearest, furthest := math.Inf(1), 0.0
	for i := range 50 {
		from := 2e-3 * (1 + 0.0007*float64(i))
		r := &Result{Findings: []audibility.Finding{straight("rises", 1, 1e-3, 1e-1)}}
		for _, q := range []float64{from, 2e-2} {
			g := rungOf(q, 1, 1e-3, q/1e-2)
			g.Use.read(r.Findings)
			r.Rungs = append(r.Rungs, g)
		}
		edges := edgesOfUse(r, bars{1, 2}, 1e-3, 1)
		if len(edges) != 1 {
			t.Fatalf("edges %v", edges)
		}
		nearest, furthest = min(nearest, 1e-2/edges[0]), max(furthest, 1e-2/edges[0])
	}
	if nearest < 1.0199 || nearest > 1.022 || furthest > 1.0405 || furthest < 1.038 {
		t.Errorf("edges lie %g to %g inside", nearest, furthest)
	}
}

// A stage is looked at up to twice its optimum where class A ends before.
func TestSweepReachesTwiceTheOptimum(t *testing.T) {
	c := ladderOf(t, idealPair(t, nil), nil)
	optimum := c.stage.OptimumQuiescent()
	c.classA, c.most = optimum/10, 1e3
	c.span(sweepDepth)
	if c.high < 2*optimum || c.high > 2*optimum*latticeRatio {
		t.Errorf("up to %g times the optimum", c.high/optimum)
	}
}

// How far the output devices' limits are looked for: eight devices in place of each, a sink
// of 0.01 K/W, rails of 0.3 of what they are and four times the load.
func TestHowFarAttemptsGo(t *testing.T) {
	spec := idealPair(t, func(s *stage.Spec) { s.Supply.Positive, s.Load.Ohms = 30, 8 })
	for i, want := range []float64{8, 0.01, 9, 32} {
		if a := attempts(spec)[i]; math.Abs(a.to-want) > 1e-12 {
			t.Errorf("%s is tried up to %g, want %g", a.key, a.to, want)
		}
	}
	spec.Thermal.Coupling = looseCoupling // the least that a stage file may give, beside none
	if _, err := stage.New(spec); err != nil {
		t.Error(err)
	}
	if spec.Thermal.Coupling *= 0.99; func() bool { _, err := stage.New(spec); return err == nil }() {
		t.Errorf("a coupling of %g is legal too", spec.Thermal.Coupling)
	}
}

// Another power at the drive is told of from one part in a hundred on.
func TestPowerIsTold(t *testing.T) {
	spec := idealPair(t, nil)
	own := ladderOf(t, spec, nil).ladder.Drive()
	for off, told := range map[float64]bool{0.992: false, 0.988: true, 1.008: false, 1.012: true} {
		c := ladderOf(t, spec, new(own/math.Sqrt(off)))
		if got := c.drives(spec) != ""; got != told {
			t.Errorf("%g of the power: told %v", off, got)
		}
	}
}

// The loud passage lasts a minute and so does the quiet behind it: of a stage whose current
// goes on falling as it cools, the minimum is that at its end.
func TestQuietLastsAMinute(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	c := ladderOf(t, spec, nil)
	quiescent := c.stage.OptimumQuiescent()
	got, err := c.afterwards(quiescent)
	if err != nil {
		t.Fatal(err)
	}
	e, err := c.ladder.At(bias.Current(quiescent))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, err := bias.Settle(c.stage, e.Biased().Setting(), c.stage.Conditions(stage.Sine(0)))
	if err != nil {
		t.Fatal(err)
	}
	loud := c.stage.Conditions(stage.Sine(c.ladder.Drive()))
	d, err := e.Biased().Drift(stage.Course{Air: loud.Air, Maximum: loud.Maximum, From: rest.Heat(), Stretches: []stage.Stretch{
		{Seconds: 60, Signal: loud.Signal}, {Seconds: 60, Signal: stage.Sine(0)},
	}})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "current in the quiet", got, d.Moments[len(d.Moments)-1].Quiescent, 1e-6) // half or twice as long: 1e-3 more or less
}
