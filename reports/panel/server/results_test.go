package server

import (
	"bytes"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"quietcross/dsp/level"
	"quietcross/reports/panel/statistics"
)

// simulate stores a finished session of a listener with a curve, answering from
// the key, as quick as the store is.
func simulate(t *testing.T, s *Store, settings Settings, curve statistics.Curve, rng *rand.Rand) *Session {
	t.Helper()
	spl := 72.0
	v := &Session{
		Token: token(), Code: Code(5), Material: "Bowed chord", Settings: settings, Lo: -70, Hi: -20, Seed: rng.Uint64() >> 1,
		Title: "Evening set", SetHash: "4f1c", Stimulus: "4f1c", Version: "0.1", SetSeed: 7, ClipRate: 48000, Begun: time.Now(),
	}
	must(t, s.addSession(v))
	v.Device, v.SPL, v.Matched = "headphones", &spl, "meter"
	must(t, s.setLevel(v, time.Now()))
	p, err := v.newProgress()
	must(t, err)
	for {
		next, more := p.next()
		if !more {
			break
		}
		tr := Trial{Session: v.ID, Number: p.taken + 1, Token: token(), Kind: next.kind, Target: next.level, Odd: 1 + rng.IntN(3), Started: time.Now(), Answered: time.Now()}
		right := statistics.GuessThree
		if next.kind != CatchNull {
			tr.Rung = rungFor(next.level)
			right = curve.At(next.level)
		}
		if tr.Choice = tr.Odd; rng.Float64() >= right {
			tr.Choice = tr.Odd%3 + 1
		}
		must(t, s.addTrial(&tr))
		must(t, s.answer(tr.ID, tr.Choice, attempt{}, time.Now()))
		p.take(&tr)
	}
	must(t, s.finish(v.ID, time.Now()))
	v, err = s.session(t.Context(), v.Token)
	must(t, err)
	return v
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// rungFor inverts the closed form of the synthetic stage.
func rungFor(residual float64) Rung {
	q := optimumCurrent * math.Pow((-20-residual)/50, 1/0.6)
	return Rung{Quiescent: q, Bias: 1.1 + 0.026*math.Log1p(q/0.001), Residual: level.DB(residual)}
}

// simulated opens a store with the rungs of the closed form. What simulated
// listeners answer need not outlive a loss of power.
func simulated(t *testing.T) *Store {
	t.Helper()
	s := openStore(t, filepath.Join(t.TempDir(), "panel.sqlite"))
	if _, err := s.db.Exec("PRAGMA synchronous=OFF"); err != nil {
		t.Fatal(err)
	}
	for residual := -70.0; residual <= -20; residual++ {
		must(t, s.addRung("Bowed chord", "4f1c", rungFor(residual)))
	}
	return s
}

func listenerCurve(threshold float64) statistics.Curve {
	return statistics.Curve{Location: threshold, Scale: 1.5, Guess: statistics.GuessThree, Lapse: .02}
}

// A panel of known listeners: the pooled threshold, the spread between them and
// the stage's own quantities come back, and the prediction stays beside them.
func TestPanelIsRecovered(t *testing.T) {
	s := simulated(t)
	rng := rand.New(rand.NewPCG(31, 0))
	sum, square := 0.0, 0.0
	const n = 24
	for range n {
		x := -48 + 4*rng.NormFloat64()
		sum, square = sum+x, square+x*x
		simulate(t, s, quick(Defaults(Adaptive)), listenerCurve(x), rng)
	}
	mean := sum / n
	spread := math.Sqrt((square - n*mean*mean) / (n - 1))
	expected := Prediction{Material: "Bowed chord", Stimulus: "4f1c", Residual: -60, Quiescent: 0.03, Bias: 1.19, Method: "ear model"}
	plain, err := Evaluate(t.Context(), s, nil)
	must(t, err)
	with, err := Evaluate(t.Context(), s, []Prediction{expected})
	must(t, err)
	m := with.Materials[0]
	if m.Pooled == nil || math.Abs(m.Pooled.Mean-mean) > 0.6 || math.Abs(m.Pooled.Between-spread) > 1 {
		t.Fatalf("pooled %+v; true mean %.2f, spread %.2f", m.Pooled, mean, spread)
	}
	if want := rungFor(m.Pooled.Mean); math.Abs(m.At.Quiescent/want.Quiescent-1) > 0.01 || math.Abs(m.At.Bias-want.Bias) > 0.001 {
		t.Errorf("pooled place %+v, want %+v", m.At, want)
	}
	if !reflect.DeepEqual(plain.Materials[0].Pooled, m.Pooled) || !reflect.DeepEqual(plain.Materials[0].Points, m.Points) {
		t.Error("a prediction changed what was heard")
	}
	if m.Fit == nil || m.Fit.Scale < 0.9 || m.Fit.Scale > 2.4 {
		t.Errorf("the panel's curve: %+v", m.Fit)
	}
	for _, l := range m.Listeners {
		if !l.Kept || !l.Established {
			t.Errorf("listener %s: %s %s", l.Session.Code, l.LeftOut, l.Why)
		}
	}
	var page bytes.Buffer
	must(t, with.WriteHTML(&page))
	for _, want := range []string{"By ear", "By number", "ear model", "72 dB(A)", "4f1c", "seed 7", "version 0.1"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// Nobody who guesses gets a threshold, and no text says "inaudible" of what was
// not heard; with few trials it says that the test could not tell.
func TestNotHeardIsNotInaudible(t *testing.T) {
	s := simulated(t)
	rng := rand.New(rand.NewPCG(32, 0))
	short, triangle := quick(Defaults(Adaptive)), Defaults(Triangle)
	short.Trials, triangle.Trials = 8, 6
	called := 0
	for n := range 24 {
		simulate(t, s, []Settings{quick(Defaults(Adaptive)), short, triangle}[n%3], listenerCurve(1000), rng)
	}
	r, err := Evaluate(t.Context(), s, nil)
	must(t, err)
	m := r.Materials[0]
	for _, l := range m.Listeners {
		if l.Established {
			called++
		}
		weak := l.Verdict.Power < l.Session.Settings.Power
		if l.Verdict.Outcome != statistics.Heard && weak != strings.Contains(l.Why, "too few trials to tell") {
			t.Errorf("power %.2f: %s", l.Verdict.Power, l.Why)
		}
	}
	if called > 1 { // 8 adaptive and 8 short sessions at 5 %
		t.Errorf("%d guessing listeners with a threshold", called)
	}
	var page bytes.Buffer
	must(t, r.WriteHTML(&page))
	if n := strings.Count(page.String(), "inaudible"); n != 1 || !strings.Contains(page.String(), "never &#34;inaudible&#34;") && !strings.Contains(page.String(), `never "inaudible"`) {
		t.Errorf("%d times inaudible", n)
	}
}

// Sessions that are cut short or inattentive do not enter the panel.
func TestScreeningOfSessions(t *testing.T) {
	s := simulated(t)
	rng := rand.New(rand.NewPCG(33, 0))
	simulate(t, s, quick(Defaults(Adaptive)), listenerCurve(-45), rng)
	careless := listenerCurve(-45)
	careless.Lapse = 0.66
	simulate(t, s, quick(Defaults(Adaptive)), careless, rng)
	open, _ := sample(t, s)
	r, err := Evaluate(t.Context(), s, nil)
	must(t, err)
	l := r.Materials[0].Listeners
	if !l[0].Kept || l[1].Kept || !strings.Contains(l[1].LeftOut, "large differences") {
		t.Errorf("kept %v and %v (%s)", l[0].Kept, l[1].Kept, l[1].LeftOut)
	}
	for _, m := range r.Materials {
		if m.Material != open.Material {
			continue
		}
		// Its trial is open: the key must not appear in any result.
		if u := m.Listeners[0]; u.Kept || len(u.Trials) != 0 {
			t.Errorf("open session: %+v", u)
		}
	}
}

func TestGradedPanel(t *testing.T) {
	r := newRig(t, Defaults(Multi), nil)
	for n := range 3 {
		r.run(t, r.listener(t, "Bowed chord", -45, uint64(n)))
	}
	got, err := Evaluate(t.Context(), r.store, nil)
	must(t, err)
	m := got.Materials[0]
	if len(m.Grades) != 5 || m.Grades[0].Role != Anchor || m.Grades[0].Difference.N != 3 {
		t.Fatalf("grades %+v", m.Grades)
	}
	// The simulated grades: hidden reference 4.9, anchor 1.5.
	if d := m.Grades[0].Difference.Mean; math.Abs(d+3.4) > 1e-9 {
		t.Errorf("difference grade of the anchor %g", d)
	}
	for _, l := range m.Listeners {
		if !l.Kept || !l.Screening.Kept {
			t.Errorf("%s: %s", l.Session.Code, l.LeftOut)
		}
	}
	var page, table bytes.Buffer
	must(t, got.WriteHTML(&page))
	must(t, got.WriteCSV(&table, Export{}))
	rows, err := csv.NewReader(&table).ReadAll()
	must(t, err)
	if want := 1 + 3*6*5; len(rows) != want { // six rounds of five items, the first for practice
		t.Errorf("%d rows, want %d", len(rows), want)
	}
}

func TestRawTrials(t *testing.T) {
	s := simulated(t)
	rng := rand.New(rand.NewPCG(34, 0))
	v := simulate(t, s, Defaults(Staircase), listenerCurve(-45), rng)
	_, err := s.db.Exec(`UPDATE session SET name = '=HYPERLINK("x")'`)
	must(t, err)
	r, err := Evaluate(t.Context(), s, nil)
	must(t, err)
	l := r.Materials[0].Listeners[0]
	if math.Abs(l.Track+45) > 4 || l.Target != statistics.GuessThree && math.Abs(l.Target-.70711) > 1e-4 {
		t.Errorf("track %g at %g", l.Track, l.Target)
	}
	var b bytes.Buffer
	must(t, r.WriteCSV(&b, Export{Names: true}))
	rows, err := csv.NewReader(&b).ReadAll()
	must(t, err)
	trials, err := s.Trials(t.Context(), v.ID)
	must(t, err)
	if len(rows) != len(trials)+1 {
		t.Fatalf("%d rows for %d trials", len(rows), len(trials))
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	right := 0
	for _, row := range rows[1:] {
		if (row[column["odd"]] == row[column["choice"]]) != (row[column["right"]] == "true") {
			t.Errorf("row %v", row)
		}
		if row[column["right"]] == "true" && row[column["kind"]] == "test" {
			right++
		}
		if !strings.HasPrefix(row[column["name"]], "'=") {
			t.Errorf("name %q", row[column["name"]])
		}
	}
	if right != l.Verdict.Count.Right {
		t.Errorf("%d right in the table, %d in the result", right, l.Verdict.Count.Right)
	}
}

func TestAxisInterpolates(t *testing.T) {
	a := newAxis([]Rung{{0.02, 1.2, -50, 0, 0}, {0, 1, -20, 0, 0}, {0.01, 1.1, -40, 0, 0}, {0.05, 1.3, -45, 0, 0}})
	for residual, want := range map[float64]Place{-20: {0, 1}, -30: {0.005, 1.05}, -45: {0.015, 1.15}, -50: {0.02, 1.2}} {
		if got := a.At(residual); math.Abs(got.Quiescent-want.Quiescent) > 1e-12 || math.Abs(got.Bias-want.Bias) > 1e-12 {
			t.Errorf("%g dB: %+v, want %+v", residual, got, want)
		}
	}
	for _, residual := range []float64{-51, -19, math.NaN(), math.Inf(-1)} {
		if !math.IsNaN(a.At(residual).Quiescent) {
			t.Errorf("%g dB has a place", residual)
		}
	}
	if !math.IsNaN(newAxis(nil).At(-30).Bias) {
		t.Error("no rungs, but a place")
	}
}

func TestFormats(t *testing.T) {
	for got, want := range map[string]string{
		current(0.0168): "16.8\u00a0mA", current(2e-5): "20.0\u00a0µA", current(1.5): "1.50\u00a0A", current(0): "0\u00a0mA", current(math.NaN()): "outside the set",
		decibels(-46.04): "−46.0\u00a0dB", decibels(math.Inf(-1)): "below the set", volts(1.1754): "1.175\u00a0V", chance(1e-9): "<0.0001", chance(0.0384): "0.0384",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
