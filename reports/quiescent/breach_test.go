package quiescent

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/reports/inspect"
	"quietcross/stage"
	"quietcross/stage/circuits"
)

// A stage whose devices are too small for its load has its safe area and that of a load of
// 45 degrees named, each with changes that mend it: every one that is said to do so is built
// and inspected again, and the least number of devices is that which the power asks for.
func TestBreachesHaveRemedies(t *testing.T) {
	o := shortly(t, "pair-12w-multiplier")
	o.Spec.SafeArea = circuits.SafeArea{Fitted: true, Current: 5, Power: 12, Volts: 60}
	c := climb(t, o)
	r := &Result{Chosen: &Rung{Quiescent: 0.06}}
	r.Recommendation.Met = true
	if err := c.edges(r, r.Chosen.Quiescent); err != nil {
		t.Fatal(err)
	}
	if len(r.Edges) == 0 || len(r.Remedies) != len(attempts(o.Spec)) {
		t.Fatalf("edges %q, remedies %+v", r.Edges, r.Remedies)
	}
	works := 0
	for i, a := range attempts(o.Spec) {
		m := &r.Remedies[i]
		if len(m.For) == 0 || m.Key != a.key {
			t.Errorf("%s: for %v", m.Key, m.For)
		}
		if !m.Works {
			continue
		}
		works++
		for _, v := range []struct {
			value float64
			in    bool
		}{{m.To, true}, {m.To + 0.05*(a.from-a.to), false}} {
			if a.whole && !v.in {
				v.value = m.To - 1
			}
			spec := o.Spec
			share := a.change(&spec, v.value)
			if got := outOfArea(t, spec, r.Chosen.Quiescent*share); got == v.in {
				t.Errorf("%s of %g: outside %v", m.Key, v.value, got)
			}
		}
	}
	if works < 2 {
		t.Errorf("%d of %+v work", works, r.Remedies)
	}
	var table bytes.Buffer
	if err := writeGrid(&table, remedyColumns, remedyRows(r)); err != nil || !strings.Contains(table.String(), "safe area") && !strings.Contains(table.String(), "45 degrees") {
		t.Errorf("%v: %s", err, table.String())
	}
}

// outOfArea inspects a stage at a current: whether it names the safe area or the load of 45
// degrees.
func outOfArea(t *testing.T, spec stage.Spec, quiescent float64) bool {
	t.Helper()
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		t.Fatal(err)
	}
	list, err := inspect.Breaches(ladder, stage.Quiescent(quiescent))
	if err != nil {
		t.Fatal(err)
	}
	return slices.ContainsFunc(list, func(b inspect.Breach) bool { return b.Edge == inspect.SafeArea || b.Edge == inspect.Reactive })
}

// A stage within its limits has neither edges nor remedies.
func TestNothingToMend(t *testing.T) {
	c := climb(t, shortly(t, "pair-12w"))
	r := &Result{Chosen: &Rung{Quiescent: 0.05}}
	if err := c.edges(r, r.Chosen.Quiescent); err != nil || len(r.Edges) > 0 || len(r.Remedies) > 0 {
		t.Errorf("%v, %q, %+v", err, r.Edges, r.Remedies)
	}
}
