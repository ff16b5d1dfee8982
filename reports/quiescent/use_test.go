package quiescent

import (
	"math"
	"slices"
	"testing"

	"quietcross/dsp/hearing"
	"quietcross/reports/audibility"
	"quietcross/reports/inspect"
	"quietcross/stage"
)

// straight is a finding whose d' is a power of the current.
func straight(name string, power float64, currents ...float64) audibility.Finding {
	f := audibility.Finding{Material: name, Level: -20}
	for _, q := range currents {
		f.Curve = append(f.Curve, audibility.Point{Quiescent: q, DPrime: math.Pow(q/1e-2, power)})
	}
	return f
}

// What is heard over a range is the worst of all pieces at its worse end, where the curves
// are straight, and nothing where one of them does not cover the range.
func TestRead(t *testing.T) {
	findings := []audibility.Finding{straight("falls", -1, 1e-3, 1e-2, 1e-1), straight("rises", 2, 1e-3, 1e-2, 1e-1)}
	for _, c := range []struct{ low, high, at, dPrime float64 }{{4e-3, 8e-3, 4e-3, 2.5}, {8e-3, 2e-2, 2e-2, 4}, {1e-2, 1e-2, 1e-2, 1}} {
		at, heard, ok := read(findings, c.low, c.high)
		if !ok || math.Abs(at/c.at-1) > 1e-9 || math.Abs(heard.DPrime/c.dPrime-1) > 1e-9 || heard.Detection != hearing.Detection(heard.DPrime) {
			t.Errorf("%g to %g A: %+v at %g A, %v, want %g at %g", c.low, c.high, heard, at, ok, c.dPrime, c.at)
		}
	}
	if _, _, ok := read(append(findings, straight("short", 1, 1e-3, 1e-2)), 5e-3, 2e-2); ok {
		t.Error("read beyond a curve")
	}
}

// A stage that warms up to twice its current is heard in use where half the limit's current
// is set: the edge between two rungs, by the line between them, lies a little inside. A
// window between two rungs that both are heard has two edges, and there are none outside of
// what may be chosen.
func TestEdgesOfUse(t *testing.T) {
	for _, c := range []struct {
		curve     audibility.Finding
		from      float64
		low, high float64
		want      []float64
	}{
		{straight("rises", 1, 1e-3, 1e-1), 2e-3, 1e-3, 1, []float64{5e-3}},
		{straight("rises", 1, 1e-3, 1e-1), 2e-3, 6e-3, 1, nil},
		{audibility.Finding{Curve: []audibility.Point{{Quiescent: 1e-3, DPrime: 9}, {Quiescent: 3e-3, DPrime: 1}, {Quiescent: 4.5e-3, DPrime: 0.1}, {Quiescent: 9e-3, DPrime: 1}, {Quiescent: 1e-1, DPrime: 9}}}, 2e-3, 1e-3, 1, []float64{3e-3, 4.5e-3}},
	} {
		r := &Result{Findings: []audibility.Finding{c.curve}}
		for _, q := range []float64{c.from, 8e-3} {
			g := rungOf(q, 1, 1e-3, q/1e-2)
			span := Span{Low: q, High: 2 * q}
			g.Use = &Use{Own: span, Any: span}
			g.Use.read(r.Findings)
			r.Rungs = append(r.Rungs, g)
		}
		edges := edgesOfUse(r, bars{1, 2}, c.low, c.high)
		if len(edges) != len(c.want) {
			t.Errorf("edges %v, want %v", edges, c.want)
			continue
		}
		for i, want := range c.want {
			if math.Abs(math.Log(edges[i]/want)) > 2.01*math.Log(finely) {
				t.Errorf("edge at %g A, want it near %g", edges[i], want)
			}
			part := edges[i] / c.from
			if got := between(r.Findings, &r.Rungs[0], &r.Rungs[1], c.from*part); !got.meetsAll(bars{1, 2}) {
				t.Errorf("at %g A, an edge, %+v is heard", edges[i], got)
			}
		}
	}
}

// Settled currents and the one set make the ranges; a stage that runs away in one of them
// has none.
func TestEnds(t *testing.T) {
	g := rungOf(1e-2, 1, 1e-3, 0)
	g.Rest.Quiescent, g.Playing.Quiescent, g.ColdAir.Quiescent, g.Idle.Quiescent, g.Programme.Quiescent = 11e-3, 9e-3, 8e-3, 12e-3, 14e-3
	if u, ok := g.ends(); !ok || u.Own.Low != 9e-3 || u.Own.High != 11e-3 || u.Any.Low != 8e-3 || u.Any.High != 14e-3 {
		t.Errorf("%+v, %v", u, ok)
	}
	g.Idle.Verdict = stage.Runaway
	if _, ok := g.ends(); ok {
		t.Error("a stage that runs away has a range")
	}
}

// The quiet after a loud minute is that which inspect shows of the same stage, but for what
// the two courses begin with.
func TestAfterwardsIsInspects(t *testing.T) {
	o := shortly(t, "darlington-30w")
	c := climb(t, o)
	quiescent := c.stage.OptimumQuiescent()
	got, err := c.afterwards(quiescent)
	if err != nil {
		t.Fatal(err)
	}
	look, err := inspect.Look(o.Spec, []stage.Setting{stage.Quiescent(quiescent)})
	if err != nil {
		t.Fatal(err)
	}
	l := &look.Rungs[0].Limits
	passed := l.Drift.Moments[l.Drift.Ends[1]].Seconds
	within(t, "current in the quiet", got, l.Drift.Minimum(passed, passed+quietSeconds).Quiescent, 0.005)
}

// A stage whose bias part stands in free air drifts to where it is heard: the limit of
// audibility in use binds by itself, and closer coupling mends it, as a run of the stage with
// that coupling shows.
func TestSteadier(t *testing.T) {
	run, err := pairWorkedOut()
	if err != nil {
		t.Fatal(err)
	}
	o, result := run.options, *run.result
	c := climb(t, o)
	// In use only a steady stage is quiet: the curve rises over the coldest of the rungs.
	at := result.Chosen.Quiescent
	easy := o.under()
	result.Findings = []audibility.Finding{{Material: "a", Curve: []audibility.Point{
		{Quiescent: at / 10, DPrime: easy / 2}, {Quiescent: 1.3 * at, DPrime: easy / 2}, {Quiescent: 1.32 * at, DPrime: 2 * easy}, {Quiescent: 10 * at, DPrime: 2 * easy},
	}}}
	for i := range result.Rungs {
		result.Rungs[i].Use = nil
	}
	rec := result.Recommendation
	list, err := c.steadier(&rec, &result)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(list, func(m Remedy) bool { return m.Works })
	if i < 0 {
		t.Fatalf("nothing mends it: %+v", list)
	}
	for _, m := range list {
		if !slices.Contains(m.For, BindsUse) {
			t.Errorf("%s is for %v", m.Key, m.For)
		}
		if !m.Works {
			continue
		}
		spec := o.Spec
		for _, try := range changes(spec) {
			if try.key == m.Key {
				*try.field(&spec) = m.To
			}
		}
		if !c.steadyWith(spec, &result, m.Quiescent) {
			t.Errorf("%s of %g does not do it", m.Key, m.To)
		}
	}
}

// A stage that cannot be set to some current under what hearing asks for has no ceiling for
// that; one that cannot be set above it has.
func TestCeilingsAreAboveWhatIsAsked(t *testing.T) {
	o := DefaultOptions(idealPair(t, nil))
	c := &climber{options: &o}
	refused := Rung{Quiescent: 1e-3, Refusal: "no such operating point"}
	rungs := []Rung{rungOf(0, 0, 1, 9), refused, rungOf(1e-2, 1, 1e-3, 0), rungOf(2e-2, 1, 1e-3, 0)}
	if list, most, by := c.ceilings(rungs, 5e-3); len(list) != 0 || most != 2e-2 || by != BindsSweep {
		t.Errorf("%v, %g A by %s", list, most, by)
	}
	if list, most, by := c.ceilings(rungs, 0); len(list) != 1 || most != 0 || by != BindsCircuit {
		t.Errorf("asked for none: %v, %g A by %s", list, most, by)
	}
}
