package quiescent

import (
	"bytes"
	"context"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// rungOf is a rung as decide sees it: of a loop gain of nothing, or as given.
func rungOf(quiescent, watts, thd, dPrime float64) Rung {
	none := new(0.0)
	r := Rung{Quiescent: quiescent, Distortion: thd, Tones: []Tone{{THD: thd}}}
	r.Rest.Supply, r.Idle.LoopGain, r.Idle.JunctionLoopGain = watts, none, none
	r.Heard = []Heard{{Material: "a", DPrime: dPrime, Detection: hearing.Detection(dPrime)}}
	span := Span{Low: quiescent, High: quiescent, At: quiescent, Heard: r.Heard[0]}
	r.Use = &Use{Own: span, Any: span}
	return r
}

// The exchange by hand: twice the power is paid for less than half the distortion, and
// not for more than half; never past the numerically best current, never under a tenth of
// it, nothing that breaks a limit, and nothing over the lower end of the limit of hearing.
func TestDecision(t *testing.T) {
	o := DefaultOptions(idealPair(t, nil))
	c := &climber{options: &o}
	under := o.under()
	for _, row := range []struct {
		name   string
		rungs  []Rung
		margin float64
		best   float64
		set    float64
		why    Reason
	}{
		{"not worth it", []Rung{rungOf(1e-2, 1, 1e-3, 0), rungOf(2e-2, 2, 0.51e-3, 0), rungOf(4e-2, 4, 1e-5, 0)}, 1e-2, 2e-2, 1e-2, ByHeat},
		{"worth it", []Rung{rungOf(1e-2, 1, 1e-3, 0), rungOf(2e-2, 2, 0.49e-3, 0), rungOf(4e-2, 4, 0.3e-3, 0)}, 1e-2, 4e-2, 2e-2, ByExchange},
		{"to the best", []Rung{rungOf(1e-2, 1, 1e-3, 0), rungOf(2e-2, 2, 0.49e-3, 0)}, 1e-2, 2e-2, 2e-2, ByBest},
		{"a tenth of the best", []Rung{rungOf(1e-4, 1e-3, 0.9e-3, 0), rungOf(1e-3, 1, 0.8e-3, 0), rungOf(1e-2, 8, 0.2e-3, 0)}, 0, 1e-2, 1e-3, ByHeat},
		{"heard", []Rung{rungOf(1e-2, 1, 1e-3, 1.01*under), rungOf(1.2e-2, 1.2, 1e-3, 0.99*under)}, 1e-2, 2e-2, 1.2e-2, ByHeat},
		{"beaten", []Rung{rungOf(1e-3, 1, 1e-5, 0), rungOf(1e-2, 1.1, 1e-3, 0), rungOf(2e-2, 2, 0.9e-5, 0)}, 5e-3, 2e-2, 2e-2, ByHeat},
	} {
		r := Recommendation{Margin: row.margin, MarginKnown: true, Best: row.best, Maximum: 1}
		at, why := c.decide(&r, row.rungs)
		if at < 0 || row.rungs[at].Quiescent != row.set || why != ByHeat && row.why == ByHeat || row.why != ByHeat && why != row.why {
			t.Errorf("%s: rung %d, %s, want %g A, %s", row.name, at, why, row.set, row.why)
		}
	}
	over := Recommendation{Margin: 1e-2, MarginKnown: true, Best: 5e-3, Maximum: 1} // hearing asks for more than the best
	if at, _ := c.decide(&over, []Rung{rungOf(1e-2, 1, 1e-3, 1.01*under), rungOf(nudged*1e-2, 1, 1e-3, 0.99*under)}); at != 1 {
		t.Errorf("over the numerically best: rung %d", at)
	}
	drifts := rungOf(1e-2, 1, 1e-3, 0.5*under)
	drifts.Use.Own.Heard = rungOf(0, 0, 0, 1.01*under).Heard[0]
	stays := rungOf(1.2e-2, 1.2, 1e-3, 0.5*under)
	stays.Use.Own.Heard = rungOf(0, 0, 0, 0.99*under).Heard[0]
	if at, _ := c.decide(&Recommendation{Margin: 1e-2, MarginKnown: true, Best: 2e-2, Maximum: 1}, []Rung{drifts, stays}); at != 1 {
		t.Errorf("one that is heard in use: rung %d", at)
	}
	drifts.Use.Own.Heard, stays.Use.Any.Heard = rungOf(0, 0, 0, 0.99*under).Heard[0], rungOf(0, 0, 0, 0.99*o.sensitivity()).Heard[0]
	drifts.Use.Any.Heard = rungOf(0, 0, 0, 1.01*o.sensitivity()).Heard[0]
	if at, _ := c.decide(&Recommendation{Margin: 1e-2, MarginKnown: true, Best: 2e-2, Maximum: 1}, []Rung{drifts, stays}); at != 1 {
		t.Errorf("one that is heard in hot air: rung %d", at)
	}
	broken := rungOf(1e-2, 1, 1e-3, 0)
	broken.Breaks = []Binding{BindsJunction}
	r := Recommendation{Margin: 1e-2, MarginKnown: true, Best: 2e-2, Maximum: 1}
	if at, _ := c.decide(&r, []Rung{broken}); at >= 0 {
		t.Error("a rung that breaks a limit was chosen")
	}
}

// A loop gain of one half amplifies a drift twofold (1/(1 - L), the gain of any feedback),
// so that it costs as much as twice the power.
func TestPriceOfStability(t *testing.T) {
	calm, lively := rungOf(1e-2, 1, 1e-3, 0), rungOf(1e-2, 1, 1e-3, 0)
	lively.Idle.LoopGain = new(0.5)
	within(t, "price", lively.price()-calm.price(), 1, 1e-12)
	dear := rungOf(1e-2, 2, 1e-3, 0)
	within(t, "price of heat", dear.price()-calm.price(), 1, 1e-12)
	away := rungOf(1e-2, 1, 1e-3, 0)
	away.Idle.LoopGain = nil
	if !math.IsInf(away.price(), 1) {
		t.Error("a runaway has a price")
	}
}

// What hearing asks for with its margin, by a line through two points of a curve; a window
// that a later rise closes does not count.
func TestClear(t *testing.T) {
	curve := []audibility.Point{{Quiescent: 0, DPrime: 9}, {Quiescent: 1e-3, DPrime: 4}, {Quiescent: 4e-3, DPrime: 0.25}, {Quiescent: 8e-3, DPrime: 0.5}, {Quiescent: 16e-3, DPrime: 0.1}}
	for _, c := range []struct{ under, from, want float64 }{
		{1, 0, 2e-3}, {0.25, 0, 4e-3}, {1, 3e-3, 3e-3}, {10, 0, 0}, {0.3, 8e-3, 8e-3 * math.Pow(2, math.Log(0.5/0.3)/math.Log(5))},
	} {
		if at, ok := clearFrom(curve, c.under, c.from); !ok || math.Abs(at-c.want) > 1e-9 {
			t.Errorf("d' under %g from %g A: %g, %v, want %g", c.under, c.from, at, ok, c.want)
		}
	}
	if _, ok := clearFrom(curve, 0.05, 0); ok {
		t.Error("clear where no point is")
	}
	two := []audibility.Finding{{Material: "a", Curve: curve}, {Material: "b", Curve: []audibility.Point{{Quiescent: 1e-3, DPrime: 9}, {Quiescent: 5e-3, DPrime: 1}, {Quiescent: 6e-3, DPrime: 0.01}, {Quiescent: 16e-3, DPrime: 0.01}}}}
	at, by, ok := minimumClear(two, 0.3, 0)
	if want := 8e-3 * math.Pow(2, math.Log(0.5/0.3)/math.Log(5)); !ok || by.Material != "a" || math.Abs(at-want) > 1e-9 {
		t.Errorf("two pieces: %g by %v, %v, want %g", at, by, ok, want)
	}
}

// What meets every limit with its margin, in two stretches with a rise between them: from
// the margin on, and up to the maximum.
func TestStretches(t *testing.T) {
	r := &Result{Heard: hearing.DefaultConditions(), Limits: Limits{Detection: 0.5}}
	r.Recommendation = Recommendation{Margin: 1.5e-3, MarginKnown: true, Maximum: 7e-3}
	for i, dPrime := range []float64{9, 9, 0.1, 0.2, 0.9, 0.1, 0.1} {
		r.Rungs = append(r.Rungs, rungOf(float64(i)*1e-3, 1, 1e-3, dPrime))
	}
	hot := rungOf(8e-3, 1, 1e-3, 0.1)
	hot.Breaks = []Binding{BindsJunction}
	r.Rungs = append(r.Rungs, hot)
	if got, want := stretches(r), [][2]float64{{1.5e-3, 3e-3}, {5e-3, 7e-3}}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// beaten is the bar in so many words: as good in detection, THD at each level, power at rest
// and loop gain, and better in one.
func beaten(chosen, other *Rung) bool {
	figures := func(r *Rung) []float64 {
		most := 0.0
		for _, h := range r.Heard {
			most = max(most, h.Detection)
		}
		if r.Use != nil {
			most = max(most, r.Use.Own.Heard.Detection, r.Use.Any.Heard.Detection)
		}
		list := []float64{most, r.Rest.Supply, *r.Idle.LoopGain, *r.Idle.JunctionLoopGain}
		list[2] = max(list[2], list[3])
		list = list[:3]
		for _, tone := range r.Tones {
			list = append(list, tone.THD)
		}
		return list
	}
	if other.Refusal != "" || other.Idle.LoopGain == nil || other.Idle.JunctionLoopGain == nil || len(other.Heard) == 0 {
		return false
	}
	a, b := figures(chosen), figures(other)
	for i := range a {
		if b[i] > a[i] {
			return false
		}
	}
	return !slices.Equal(a, b)
}

// holds holds the current to set of a result to all that is said of it.
func holds(t *testing.T, o *Options, r *Result) {
	t.Helper()
	rec := r.Recommendation
	if !rec.Met {
		if len(rec.Binds) == 0 || len(r.Remedies) == 0 {
			t.Errorf("no current, and binds %v, %d remedies", rec.Binds, len(r.Remedies))
		}
		for _, b := range rec.Binds {
			if !slices.ContainsFunc(r.Remedies, func(m Remedy) bool { return slices.Contains(m.For, b) }) {
				t.Errorf("%s binds, and nothing was tried for it", b)
			}
		}
		return
	}
	chosen := r.Chosen
	for i := range r.Rungs {
		if beaten(chosen, &r.Rungs[i]) {
			t.Errorf("%g A is set, and %g A beats it in everything", chosen.Quiescent, r.Rungs[i].Quiescent)
		}
	}
	easy, _ := o.Heard.Interval(hearing.Sensitivity(o.Limits.Detection))
	for _, h := range chosen.Heard {
		if h.DPrime > easy {
			t.Errorf("%s at %g dB: d' %g, at most %g with its margin", h.Material, float64(h.Level), h.DPrime, easy)
		}
	}
	inUse(t, r, easy)
	if len(chosen.Breaks) > 0 || chosen.Quiescent > rec.Maximum*(1+1e-9) {
		t.Errorf("%g A breaks %v, maximum %g A", chosen.Quiescent, chosen.Breaks, rec.Maximum)
	}
	if most := max(rec.Best, nudged*max(rec.Margin, rec.InUse)); chosen.Quiescent > most*latticeRatio {
		t.Errorf("%g A lies past the numerically best, %g A", chosen.Quiescent, most)
	}
	for i := range r.Rungs {
		if g := &r.Rungs[i]; g.Refusal == "" && len(g.Breaks) == 0 && g.Quiescent > 0 && g.Distortion < 0.98*r.at(rec.Best).Distortion {
			t.Errorf("%g A has less distortion than the numerically best, %g A", g.Quiescent, rec.Best)
		}
	}
}

// inUse holds every rendering within the range of the chosen current to the limit, and the
// range to the settled currents.
func inUse(t *testing.T, r *Result, most float64) {
	t.Helper()
	u := r.Chosen.Use
	limit := hearing.Sensitivity(r.Limits.Detection)
	if u == nil || u.Own.Heard.DPrime > most || u.Any.Heard.DPrime > limit {
		t.Fatalf("%g A in use: %+v, at most %g with its margin", r.Chosen.Quiescent, u, most)
	}
	for _, q := range []float64{r.Chosen.Quiescent, r.Chosen.Rest.Quiescent, r.Chosen.Playing.Quiescent, u.Quiet} {
		if q < u.Own.Low || q > u.Own.High {
			t.Errorf("%g A lies outside of %g to %g A in use", q, u.Own.Low, u.Own.High)
		}
	}
	for _, q := range []float64{u.Own.Low, u.Own.High, r.Chosen.Idle.Quiescent, r.Chosen.ColdAir.Quiescent, r.Chosen.Programme.Quiescent} {
		if q < u.Any.Low || q > u.Any.High {
			t.Errorf("%g A lies outside of %g to %g A in any air", q, u.Any.Low, u.Any.High)
		}
	}
	for _, f := range r.Findings {
		for _, p := range f.Curve {
			if p.Quiescent >= u.Own.Low && p.Quiescent <= u.Own.High && p.DPrime > most || p.Quiescent >= u.Any.Low && p.Quiescent <= u.Any.High && p.DPrime > limit {
				t.Errorf("%s at %g dB: d' %g at %g A, where the stage comes to in use", f.Material, float64(f.Level), p.DPrime, p.Quiescent)
			}
		}
	}
}

// TestNothingBeatsTheChosen looks for a current in the result's own table that is better in
// everything: with QUIETCROSS_LONG on every built-in stage and on four of the test's own,
// otherwise on the two that other tests work out too.
func TestNothingBeatsTheChosen(t *testing.T) {
	run, err := pairWorkedOut()
	if err != nil {
		t.Fatal(err)
	}
	holds(t, &run.options, run.result)
	if os.Getenv("QUIETCROSS_LONG") == "" {
		return
	}
	for name, spec := range allStages(t) {
		t.Run(name, func(t *testing.T) {
			o := shortly(t, "pair-12w")
			o.Spec, o.Limits = spec, DefaultLimits(spec)
			o.Levels = []level.DB{0, -30}
			r, err := Run(t.Context(), o)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("set %g A (%s), %g to %g A, best %g A, textbook %g A", r.Recommendation.Set, r.Recommendation.Why,
				r.Recommendation.Margin, r.Recommendation.Maximum, r.Recommendation.Best, r.Recommendation.Optimum)
			holds(t, &o, r)
		})
	}
}

// allStages are the built-in stages and four of the test's own.
func allStages(t *testing.T) map[string]stage.Spec {
	t.Helper()
	all := map[string]stage.Spec{}
	for _, s := range stage.Builtin() {
		spec, err := stage.Lookup(s.Name)
		if err != nil {
			t.Fatal(err)
		}
		all[s.Name] = spec
	}
	for name, change := range map[string]func(*stage.Spec){
		"pair-12w":            func(s *stage.Spec) { s.Supply.Positive, s.Supply.Negative, s.Emitter.Ohms = 35, 35, 0.22 },
		"darlington-30w":      func(s *stage.Spec) { s.Emitter.Ohms, s.Load.Ohms = 0.33, 6 },
		"fet-30w":             func(s *stage.Spec) { s.Load.Ohms, s.Thermal.SinkToAir = 4, 0.8 },
		"pair-12w-multiplier": func(s *stage.Spec) { s.Emitter.Ohms, s.Thermal.SinkToAir = 0.15, 2.5 },
	} {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		change(&spec)
		all["own-"+name] = spec
	}
	return all
}

// quickly are the stages that ordinary tests make do with, one of each way of biasing.
var quickly = []string{"pair-12w", "pair-12w-multiplier", "single-supply-5w"}

// TestPartsMakeTheCurrent writes the stage with the chosen parts, reads it again, and solves
// it as built: 2 % of the current cold, and 3 % of what the guide says warm; with
// QUIETCROSS_LONG for every built-in stage whose bias is trimmed.
func TestPartsMakeTheCurrent(t *testing.T) {
	for _, s := range stage.Builtin() {
		if os.Getenv("QUIETCROSS_LONG") == "" && !slices.Contains(quickly, s.Name) {
			continue
		}
		o := shortly(t, s.Name)
		spec := o.Spec
		c := climb(t, o)
		quiescent := c.stage.OptimumQuiescent()
		if quiescent == 0 || quiescent > c.high {
			quiescent = c.high / 20
		}
		p, err := c.choice(quiescent)
		if err != nil {
			t.Errorf("%s: %v", spec.Name, err)
			continue
		}
		chosen, ok := p.Spec()
		if !ok {
			if s, err := c.stage.Set(stage.Quiescent(quiescent)); err == nil && s.Source() == stage.TrimmedParts {
				t.Errorf("%s: %s", spec.Name, p.Refusal)
			}
			continue
		}
		again := readAgain(t, chosen)
		st, err := stage.New(again)
		if err != nil {
			t.Fatal(err)
		}
		b, err := st.Set(stage.AsBuilt())
		if err != nil {
			t.Fatal(err)
		}
		within(t, spec.Name+" cold", b.Point().Quiescent, quiescent, 0.02)
		settled, err := st.Settle(stage.AsBuilt(), 0)
		if err != nil {
			continue // this test's current need not be one that the stage can be set to
		}
		rung := Rung{Quiescent: quiescent}
		if err := c.heat(&rung); err != nil {
			t.Fatal(err)
		}
		g, err := c.guide(&rung, p)
		if err != nil {
			t.Fatal(err)
		}
		if spec.Emitter.Ohms > 0 {
			within(t, spec.Name+" warm", settled.Hot, g.Warm/spec.Emitter.Ohms, 0.03)
		}
		if settled.Hot < g.LowQuiescent || settled.Hot > g.HighQuiescent || g.HighQuiescent < rung.Idle.Quiescent*(1-1e-6) {
			t.Errorf("%s: healthy from %g to %g A, warm at %g, at %g in the hottest air", spec.Name, g.LowQuiescent, g.HighQuiescent, settled.Hot, rung.Idle.Quiescent)
		}
	}
}

// readAgain writes a spec and reads it.
func readAgain(t *testing.T, s stage.Spec) stage.Spec {
	t.Helper()
	var file bytes.Buffer
	if err := s.Write(&file); err != nil {
		t.Fatal(err)
	}
	again, err := stage.Read(&file, "chosen.toml")
	if err != nil {
		t.Fatal(err)
	}
	return again
}

// Drawn units read what the guide calls healthy.
func TestHealthyUnits(t *testing.T) {
	run, err := pairWorkedOut()
	if err != nil {
		t.Fatal(err)
	}
	g := run.result.Guide
	units := run.result.Yield.Trimmed.Warm
	if run.result.Parts.open() {
		units = run.result.Yield.Fixed.Warm
	}
	for i, warm := range units {
		if warm < 0.95*g.LowQuiescent || warm > 1.05*g.HighQuiescent { // emitter resistors of 5 % are within the reading
			t.Errorf("unit %d settles at %g A, healthy are %g to %g", i, warm, g.LowQuiescent, g.HighQuiescent)
		}
	}
}

// TestTwoLimits sets two limits that cannot be met: both are named, each has a remedy that
// was worked out, and with both remedies a current is found.
func TestTwoLimits(t *testing.T) {
	o := shortly(t, "pair-12w")
	o.Limits.Idle, o.Limits.Junction = new(2.0), 273.15+90
	r, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	rec := r.Recommendation
	if rec.Met || !slices.Contains(rec.Binds, BindsIdle) || !slices.Contains(rec.Binds, BindsJunction) {
		t.Fatalf("met %v, binds %v", rec.Met, rec.Binds)
	}
	var sink, idle, both *Remedy
	for i := range r.Remedies {
		switch m := &r.Remedies[i]; m.Key {
		case "thermal.sink_to_air":
			sink = m
		case idleKey:
			idle = m
		case "together":
			both = m
		}
	}
	if idle == nil || !(idle.To > 2) {
		t.Fatalf("remedies %+v", r.Remedies)
	}
	f, ok := junctions(0, r)
	if !ok || !(f.Y.Hi > r.Rungs[1].Sine.Junction-273.15) {
		t.Errorf("the sine of %g K is not in a chart up to %g C", r.Rungs[1].Sine.Junction, f.Y.Hi)
	}
	if sink == nil || !slices.Contains(sink.For, BindsJunction) || both == nil || !both.Works {
		t.Fatalf("remedies %+v", r.Remedies)
	}
	o.Limits.Idle = new(idle.To * 1.001)
	o.Spec.Thermal.SinkToAir = sink.To
	if c := climb(t, o); c != nil {
		rung := c.rung(both.Quiescent)
		if len(rung.Breaks) > 0 {
			t.Errorf("with both it breaks %v", rung.Breaks)
		}
	}
}

// Where no current has the prediction's margin, the sentence on the stage file as given
// names none that would have.
func TestBuiltWithoutAMargin(t *testing.T) {
	r := &Result{Recommendation: Recommendation{
		Minimum: 0.01, MinimumKnown: true, Margin: 0.631, Maximum: 0.7, Built: &Built{Quiescent: 0.028},
	}}
	if got := built(r); strings.Contains(got, "631") || !strings.Contains(got, "no current") {
		t.Errorf("%q", got)
	}
	r.Recommendation.MarginKnown = true
	if got := built(r); !strings.Contains(got, "631") {
		t.Errorf("%q", got)
	}
}

// The stage file's current, over the margin: heard again cold, heard in use, or neither.
func TestBuiltInTheTable(t *testing.T) {
	r := &Result{Heard: hearing.DefaultConditions(), Limits: Limits{Detection: 0.5}}
	r.Recommendation = Recommendation{Minimum: 5e-3, MinimumKnown: true, Margin: 6e-3, MarginKnown: true, Maximum: 1, Built: &Built{Quiescent: 1e-2}}
	under := r.bars().under
	for _, c := range []struct {
		cold, use float64
		says      string
	}{{0.9 * under, 0.9 * under, "meets all limits"}, {0.9 * under, 1.1 * under, "in use it drifts"}, {1.1 * under, 1.1 * under, "risen again"}} {
		g := rungOf(1e-2, 1, 1e-3, c.cold)
		g.Use.Own.Heard.DPrime = c.use
		r.Rungs = []Rung{g}
		if got := built(r); !strings.Contains(got, c.says) || c.says != "meets all limits" && strings.HasSuffix(got, ": it meets all limits.") {
			t.Errorf("cold %g, in use %g: %q", c.cold, c.use, got)
		}
	}
}

// Where every current up to the numerically best is heard in use, what hearing asks for goes
// up to the first that is not, and there is a current to set.
func TestRaisedByUse(t *testing.T) {
	o := DefaultOptions(idealPair(t, nil))
	c := &climber{options: &o}
	heard := func(q float64) Rung {
		g := rungOf(q, 100*q, 1e-3/q, 0)
		g.Use.Own.Heard = rungOf(0, 0, 0, 1.01*o.under()).Heard[0]
		return g
	}
	quiet := func(q float64) Rung {
		g := rungOf(q, 100*q, 1e-3/q, 0)
		g.Use.Quiet = q
		return g
	}
	r := &Result{Rungs: []Rung{heard(1e-2), heard(2e-2), quiet(4e-2), quiet(8e-2)}}
	for i := range r.Rungs {
		r.Rungs[i].Use.Quiet = r.Rungs[i].Quiescent // known
	}
	rec := &Recommendation{Margin: 5e-3, MarginKnown: true, Best: 2e-2, Maximum: 1}
	if at, _ := c.decide(rec, r.Rungs); at >= 0 {
		t.Fatalf("rung %d before it is raised", at)
	}
	if err := c.raise(t.Context(), rec, r); err != nil || rec.InUse != 4e-2 {
		t.Fatalf("%v, %g A", err, rec.InUse)
	}
	if at, _ := c.decide(rec, r.Rungs); at != 2 {
		t.Errorf("rung %d", at)
	}
	low := &Recommendation{Margin: 5e-3, MarginKnown: true, Best: 5e-2, Maximum: 1}
	if err := c.raise(t.Context(), low, r); err != nil || low.InUse != 0 {
		t.Errorf("raised though a current up to the best is quiet: %v, %g A", err, low.InUse)
	}
}

// Where a stage is heard far under its limit, what is heard is read from the curves; at the
// current to set all material is rendered, and the others are within a third of what a
// rendering gives.
func TestChosenIsRendered(t *testing.T) {
	o, err := onShortTone("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	o.Units, o.Levels = 0, []level.DB{0, -30}
	r, err := Run(t.Context(), o)
	if err != nil || r.Chosen == nil {
		t.Fatal(err)
	}
	if len(r.Chosen.Heard) != len(o.Levels) || slices.ContainsFunc(r.Chosen.Heard, func(h Heard) bool { return h.Read }) {
		t.Errorf("at the current to set: %+v", r.Chosen.Heard)
	}
	c := climb(t, o)
	reads := 0
	for _, rung := range r.Rungs {
		for i, h := range rung.Heard {
			if !h.Read {
				continue
			}
			reads++
			if h.DPrime > o.under() {
				t.Errorf("%g A: d' %g is read, though the limit with its margin is %g", rung.Quiescent, h.DPrime, o.under())
			}
			if heard, err := o.hear(t.Context(), c.bench, rung.Quiescent); err != nil || math.Abs(math.Log(h.DPrime/heard[i].DPrime)) > math.Log(1.34) && h.DPrime > 1e-2 {
				t.Errorf("%g A, %g dB: d' %g is read, %v rendered, %v", rung.Quiescent, float64(h.Level), h.DPrime, heard, err)
			}
		}
	}
	t.Logf("%d figures of %d currents are read", reads, len(r.Rungs))
	if reads < 5 {
		t.Errorf("%d figures are read", reads)
	}
}
