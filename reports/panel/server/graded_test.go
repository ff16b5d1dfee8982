package server

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"quietcross/dsp/level"
)

// The triple-stimulus method as ITU-R BS.1116 has it (read in BS.1116-1, 1997; the
// clauses of BS.1116-3 were not at hand): an open reference, and two more of which one
// is the hidden reference; both are graded and one of them is 5.0. Every bias comes once a
// round.
func TestTripleStimulus(t *testing.T) {
	r := newRig(t, Defaults(Graded), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	seen := [][]Role{}
	for {
		view, err := c.trial()
		must(t, err)
		if view.Over {
			break
		}
		if !view.Graded || !view.Triple || len(view.Clips) != 3 {
			t.Fatalf("%+v", view)
		}
		_, trials := r.session(t, c)
		open := trials[len(trials)-1]
		hidden := positionOf(&open, Hidden)
		object := open.Items[3-hidden]
		if open.Items[0].Role != Reference || hidden < 1 {
			t.Fatalf("items %+v", open.Items)
		}
		grades := []float64{4.9, 4.9}
		give := func(want int) (got saved) {
			body, _ := json.Marshal(given{Trial: view.Trial, Grades: grades})
			status, _, answer, err := c.send("POST", "/answer", "application/json", string(body))
			must(t, err)
			if status != want {
				t.Fatalf("%v: %d %s", grades, status, answer)
			}
			json.Unmarshal(answer, &got)
			return got
		}
		give(400) // neither taken for the reference
		grades[hidden-1], grades[2-hidden] = 5, 3.2
		got := give(200)
		if open.Kind == GradedTry {
			if got.Odd != hidden || got.Low != 3-hidden {
				t.Errorf("receipt %+v of %+v", got, open.Items)
			}
			continue
		}
		if got.Odd != 0 || got.Low != 0 {
			t.Errorf("a receipt tells the key: %+v", got)
		}
		if n := len(seen); n == 0 || len(seen[n-1]) == len(gradedItems) {
			seen = append(seen, nil)
		}
		last := &seen[len(seen)-1]
		*last = append(*last, object.Role)
	}
	if len(seen) != 5 {
		t.Fatalf("%d rounds", len(seen))
	}
	for i, round := range seen {
		slices.Sort(round)
		if !slices.Equal(round, []Role{Anchor, MidAnchor, Rendered, Rendered}) {
			t.Errorf("round %d: %v", i+1, round)
		}
	}
	got, err := Evaluate(t.Context(), r.store, nil)
	must(t, err)
	m := got.Materials[0]
	if l := m.Listeners[0]; l.Screening.N != 20 || !l.Kept || math.Abs(l.Screening.Mean+1.8) > 1e-9 || !m.Triple() {
		t.Errorf("%+v %s", l.Screening, l.LeftOut)
	}
	if len(m.Grades) != 5 || math.Abs(m.Grades[0].Difference.Mean+1.8) > 1e-9 || m.Grades[4].Grade.Mean != 5 {
		t.Errorf("grades %+v", m.Grades)
	}
}

// tripled is a listener's finished session: a difference is perceived with noise of a
// standard deviation, in grades; who takes the rendering for the reference grades the
// reference down. Without noise (0) the listener guesses.
func tripled(means [4]float64, own, noise float64, rng *rand.Rand) ListenerResult {
	l := ListenerResult{Session: &Session{Settings: Defaults(Graded), Code: fmt.Sprint(rng.Uint64()), Finished: time.Now()}}
	for range l.Session.Settings.Trials {
		for i, g := range gradedItems {
			x := means[i] + own + noise*rng.NormFloat64()
			if noise == 0 {
				x = 4 * (rng.Float64() - 0.5)
			}
			x = math.Round(10*min(max(x, -4), 4)) / 10
			hidden, object := 5-max(x, 0), 5+min(x, 0)
			rung := Rung{Quiescent: 0.01 / g.share, Residual: level.DB(-70 + 50*g.share)}
			l.Trials = append(l.Trials, Trial{Kind: GradedKind, Answered: time.Now(), Items: []Item{
				{Role: Reference}, {Position: 1, Role: Hidden, Grade: &hidden}, {Position: 2, Role: g.role, Rung: rung, Grade: &object},
			}})
		}
	}
	l.screenGrades()
	return l
}

// Panels of 20 listeners of known means, who differ by 0.3 grades (standard deviation) and
// waver by 0.5 from trial to trial: the mean difference grades have a bias under 0.05, and
// their intervals hold the truth in 93 to 97 %. A guesser is left out in 95 % or more of
// the sessions, an honest listener kept. The sizes follow from the tests, 5 % each; the
// limits are three standard errors of 1,000 and 1,200 draws.
func TestTriplePanelsOfKnownMeans(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 43))
	means := [4]float64{-0.4, -1, -1.8, -2.9}
	const panels, listeners = 300, 20
	held, bias := 0, [4]float64{}
	for range panels {
		m := MaterialResult{}
		for range listeners {
			m.Listeners = append(m.Listeners, tripled(means, 0.3*rng.NormFloat64(), 0.5, rng))
		}
		m.poolGrades()
		if len(m.Grades) != 5 || len(m.Variance) != 4 || m.Variance[0].P > 1e-6 {
			t.Fatalf("%d grades, variance %+v", len(m.Grades), m.Variance)
		}
		for i, g := range m.Grades[:4] { // the largest difference first
			want := means[3-i]
			bias[i] += (g.Difference.Mean - want) / panels
			if g.Difference.Interval.Contains(want) {
				held++
			}
		}
	}
	coverage := float64(held) / (4 * panels)
	t.Logf("bias %.3f, coverage %.3f", bias, coverage)
	for _, b := range bias {
		if math.Abs(b) > 0.05 {
			t.Errorf("bias %.3f grade", b)
		}
	}
	if coverage < 0.93 || coverage > 0.97 {
		t.Errorf("coverage %.3f", coverage)
	}
	kept, fooled := 0, 0
	const draws = 1000
	for range draws {
		if l := tripled(means, 0, 0.5, rng); l.Kept {
			kept++
		}
		if l := tripled(means, 0, 0, rng); l.Kept {
			fooled++
		}
	}
	t.Logf("kept %d honest ones and %d guessers of %d", kept, fooled, draws)
	if kept < 950 || fooled > 50+3*7 {
		t.Errorf("kept %d honest ones and %d guessers of %d", kept, fooled, draws)
	}
}
