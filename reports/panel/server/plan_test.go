package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

const studyText = `
title = "Evening study"
method = "adaptive"
materials = ["Plucked line", "Bowed chord"]
consent = "I am of age."
[session]
trials = 5
practice = 0
catch_every = 0
materials_per_sitting = 1
pause = "1ms"
break_every = 3
break = "0s"
minimum_listening = "0s"
[level]
spl = 72
[stop]
listeners = 2
`

func study(t *testing.T, text string) *Plan {
	t.Helper()
	p, err := ReadPlan(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	p.Settings.Most = 0
	return p
}

// Every material follows every other equally often, and stands equally often at each
// place (the definition of a balanced Latin square).
func TestSquareIsBalanced(t *testing.T) {
	for n := 1; n <= 9; n++ {
		rows := balancedSquare(n)
		places, follows := map[[2]int]int{}, map[[2]int]int{}
		for _, row := range rows {
			for i, v := range row {
				places[[2]int{i, v}]++
				if i > 0 {
					follows[[2]int{row[i-1], v}]++
				}
			}
		}
		for key, k := range places {
			if k != len(rows)/n {
				t.Errorf("%d: place and material %v %d times of %d rows", n, key, k, len(rows))
			}
		}
		if len(places) != n*n || len(follows) != n*(n-1) {
			t.Errorf("%d: %d places, %d pairs", n, len(places), len(follows))
		}
		for pair, k := range follows {
			if k != len(rows)/n {
				t.Errorf("%d: %v %d times", n, pair, k)
			}
		}
	}
}

func TestPlanIsStrict(t *testing.T) {
	for text, want := range map[string]string{
		"titel = 'x'":                      "titel",
		"[session]\ntrails = 5":            "trails",
		"method = 'loud'":                  "loud",
		"order = 'any'":                    "latin-square",
		"[session]\npause = 'soon'":        `"10m"`,
		"[level]\nspl = 100":               "40 to 85",
		"materials = ['a', 'a']":           "twice",
		"[stop]\nlisteners = -1":           "0 (no end)",
		"[exclude]\nscreening_alpha = 0.5": "Screening",
		"method = 'triangle'\n[session]\ntrials = 12\nquiescent = '5mA'": "trials have it",
		"method = 'triangle'\n[session]\nquiescent = '5V'":               "session.quiescent",
		"title = ": "title",
	} {
		if _, err := ReadPlan(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want a word of %q", text, err, want)
		}
	}
	p := study(t, studyText)
	if p.Settings.Trials != 5 || p.Settings.BreakEvery != 3 || p.SPL != 72 || p.Listeners != 2 || len(p.Hash) != 64 || p.Pause != time.Millisecond {
		t.Errorf("%+v", p)
	}
}

// A study from the first listener to its end: the order is counterbalanced, nobody
// chooses, parts follow each other, the plan's hash stands with the result, and the end is
// the plan's.
func TestStudy(t *testing.T) {
	plan := study(t, studyText)
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Plan, c.RunKey = plan, "KEY" })
	must(t, r.store.Register(t.Context(), plan, time.Now()))
	must(t, r.store.Register(t.Context(), plan, time.Now()))
	other := study(t, studyText+"\n[power]\nalpha = 0.01\n")
	for _, p := range []*Plan{other, nil} {
		if err := r.store.Register(t.Context(), p, time.Now()); !errors.Is(err, ErrPlan) || !strings.Contains(err.Error(), "--database") {
			t.Errorf("another plan: %v", err)
		}
	}
	var orders [][]string
	for n := range 2 {
		c := newClient(r.http.URL)
		c.curve = listenerCurve(-45)
		var heard []string
		for range 2 {
			status, _, body, err := c.send("POST", "/begin", "application/x-www-form-urlencoded", "consent=yes&same=yes&material=Bowed+chord")
			if err != nil || status != 200 {
				t.Fatal(n, status, err, string(body))
			}
			must(t, c.setLevel())
			r.run(t, c)
			v, _ := r.session(t, c)
			heard = append(heard, v.Material)
			if v.Listener != n+1 || v.Part != len(heard) {
				t.Errorf("listener %d, part %d", v.Listener, v.Part)
			}
			time.Sleep(2 * time.Millisecond)
		}
		orders = append(orders, heard)
		if status, _, body, _ := c.send("POST", "/begin", "application/x-www-form-urlencoded", "consent=yes&same=yes"); status != http.StatusForbidden || !bytes.Contains(body, []byte("heard everything")) {
			t.Errorf("a third part: %d %s", status, body)
		}
	}
	if slices.Equal(orders[0], orders[1]) || orders[0][0] != "Plucked line" {
		t.Errorf("orders %q", orders)
	}
	late := newClient(r.http.URL)
	if status, _, body, _ := late.send("POST", "/begin", "application/x-www-form-urlencoded", "consent=yes"); status != http.StatusForbidden || !bytes.Contains(body, []byte("complete")) {
		t.Errorf("after the end: %d %s", status, body)
	}
	// The page for whoever runs it knows who is where and no answers; it closes the panel.
	if status, _, _, _ := late.send("GET", "/run/WRONG", "", ""); status != http.StatusNotFound {
		t.Errorf("a wrong key: %d", status)
	}
	status, _, body, err := late.send("GET", "/run/KEY", "", "")
	if err != nil || status != 200 || !bytes.Contains(body, []byte("finished")) || !bytes.Contains(body, []byte("2 of 2 that are wanted")) || bytes.Contains(body, []byte("right")) {
		t.Errorf("run page: %d %v %s", status, err, body)
	}
	if status, _, _, err = late.send("POST", "/run/KEY/close", "", ""); err != nil || status != 200 {
		t.Errorf("close: %d %v", status, err)
	}
	if status, _, _, _ = r.listenerOrNil(t).send("GET", "/trial", "", ""); status == 200 {
		t.Errorf("closed: %d", status)
	}
	results, err := Evaluate(t.Context(), r.store, nil)
	must(t, err)
	if results.Plan == nil || results.Plan.Hash != plan.Hash || results.Plan.Text != studyText || results.Closed == "" {
		t.Errorf("%+v", results.Plan)
	}
	var page, text bytes.Buffer
	must(t, results.WriteHTML(&page))
	must(t, results.WriteJSON(&text, Export{}))
	if !strings.Contains(page.String(), plan.Hash) {
		t.Error("the page lacks the plan's hash")
	}
	var document struct {
		Plan      struct{ SHA256 string }
		Materials []struct {
			Methods   string
			Listeners []struct{ Kept bool }
		}
	}
	must(t, json.Unmarshal(text.Bytes(), &document))
	if document.Plan.SHA256 != plan.Hash || len(document.Materials) != 2 || len(document.Materials[0].Listeners) != 2 || !strings.Contains(document.Materials[0].Methods, "odd-one-out") {
		t.Errorf("%+v", document)
	}
}

func (r *rig) listenerOrNil(*testing.T) *client { return newClient(r.http.URL) }

// Sessions that were begun without a plan do not become a study afterwards.
func TestPlanComesFirst(t *testing.T) {
	s := openStore(t, filepath.Join(t.TempDir(), "p.sqlite"))
	sample(t, s)
	if err := s.Register(t.Context(), study(t, studyText), time.Now()); !errors.Is(err, ErrPlan) || !strings.Contains(err.Error(), "without one") {
		t.Errorf("%v", err)
	}
}

// A break is a time without a trial, enforced by the server.
func TestBreaksAreEnforced(t *testing.T) {
	settings := Defaults(Adaptive)
	r := newRig(t, settings, func(c *Config) {
		c.Settings.Practice, c.Settings.CatchEvery, c.Settings.BreakEvery, c.Settings.Break = 0, 0, 2, 0.3
	})
	c := r.listener(t, "Bowed chord", -45, 1)
	rests := 0
	for answered := 0; answered < 5; {
		view, err := c.trial()
		must(t, err)
		if view.Rest > 0 {
			if len(view.Clips) > 0 || view.Rest > 0.3 {
				t.Errorf("a break with %+v", view)
			}
			rests++
			time.Sleep(time.Duration(view.Rest*1000+5) * time.Millisecond)
			continue
		}
		if _, _, err := c.answer(view.Trial, 1); err != nil {
			t.Fatal(err)
		}
		answered++
	}
	if rests != 2 {
		t.Errorf("%d breaks after 5 trials, want 2", rests)
	}
}

// An answer without having listened is refused, by the page's account and by the clock;
// what was heard is kept.
func TestListeningTimeIsChecked(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Settings.Listen = 0.1 })
	c := r.listener(t, "Bowed chord", -45, 1)
	view, err := c.trial()
	must(t, err)
	if view.Listen != 0.1 {
		t.Errorf("the page is told %g s", view.Listen)
	}
	post := func(heard string) int {
		status, _, _, err := c.send("POST", "/answer", "application/json", `{"trial":"`+view.Trial+`","choice":1,"switches":4,"heard":`+heard+`}`)
		must(t, err)
		return status
	}
	if got := post("[1,1,1]"); got != 400 {
		t.Errorf("sooner than can be: %d", got)
	}
	time.Sleep(250 * time.Millisecond)
	for _, bad := range []string{"[1,1,0.01]", "[1,1]", "null", "[1,1,-1]", "[1,1,1,1]"} {
		if got := post(bad); got != 400 {
			t.Errorf("%s: %d", bad, got)
		}
	}
	if got := post("[0.1,0.2,0.3]"); got != 200 {
		t.Errorf("heard: %d", got)
	}
	if _, trials := r.session(t, c); trials[0].Switches != 4 || !slices.Equal(trials[0].Heard, []float64{.1, .2, .3}) {
		t.Errorf("stored %+v", trials[0])
	}
}

// Multi-stimulus practice is a round of grades of its own, whose key is shown and whose grades do
// not count.
func TestGradedPractice(t *testing.T) {
	r := newRig(t, Defaults(Multi), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	view, err := c.trial()
	must(t, err)
	if !view.Practice || !view.Graded || len(view.Clips) != 6 {
		t.Fatalf("%+v", view)
	}
	_, trials := r.session(t, c)
	_, _, body, err := c.send("POST", "/answer", "application/json", `{"trial":"`+view.Trial+`","grades":[3,3,3,3,3]}`)
	must(t, err)
	var got saved
	must(t, json.Unmarshal(body, &got))
	if got.Odd != positionOf(&trials[0], Hidden) || got.Low != positionOf(&trials[0], Anchor) || got.Odd == 0 {
		t.Errorf("receipt %+v", got)
	}
	r.run(t, c)
	results, err := Evaluate(t.Context(), r.store, nil)
	must(t, err)
	if l := results.Materials[0].Listeners[0]; l.Screening.N != 5 || !l.Kept {
		t.Errorf("%+v", l.Screening)
	}
}

// A triangle test that the stage has no point for is refused when it is prepared.
func TestTriangleIsRenderedBeforehand(t *testing.T) {
	clips := faulty{synthetic: shortClips()}
	clips.rendering = func(a [][]float64, rung Rung) ([][]float64, Rung, error) {
		if rung.Quiescent > 1 {
			return nil, Rung{}, errors.New("no operating point")
		}
		return a, rung, nil
	}
	settings := quick(Defaults(Triangle))
	settings.Quiescent = 900
	server, err := NewServer(Config{Clips: clips, Store: openStore(t, filepath.Join(t.TempDir(), "p.sqlite")), Settings: settings})
	must(t, err)
	if err := server.Prepare(t.Context(), nil); err == nil || !strings.Contains(err.Error(), "no operating point") {
		t.Errorf("prepared: %v", err)
	}
}

// Triangle tests of a panel: pooled, corrected, estimated.
func TestTrianglePanel(t *testing.T) {
	settings := Defaults(Triangle)
	settings.Quiescent = 0.010
	r := newRig(t, settings, nil)
	for n := range 4 {
		r.run(t, r.listener(t, "Bowed chord", -45-30*float64(n%2), uint64(n)))
	}
	results, err := Evaluate(t.Context(), r.store, nil)
	must(t, err)
	m := results.Materials[0]
	if m.Shares == nil || m.Shares.N != 4 || m.Shares.Total.Trials != 96 {
		t.Fatalf("%+v", m.Shares)
	}
	for _, l := range m.Listeners {
		if l.Holm < l.Verdict.P || l.Holm > 4*l.Verdict.P+1e-12 {
			t.Errorf("p %g adjusted to %g", l.Verdict.P, l.Holm)
		}
	}
	var page bytes.Buffer
	must(t, results.WriteHTML(&page))
	if !strings.Contains(page.String(), "of the trials heard") {
		t.Error("no panel-level result on the page")
	}
}

// A listener who asks for it is deleted, and nobody else; not a word is left in the file.
func TestForget(t *testing.T) {
	s := openStore(t, filepath.Join(t.TempDir(), "p.sqlite"))
	gone, _ := sample(t, s)
	stays, tr := sample(t, s)
	_, err := s.db.Exec("UPDATE session SET room = 'cellar of the mill' WHERE id = ?", gone.ID)
	must(t, err)
	must(t, s.answer(tr.ID, 2, attempt{}, time.Now()))
	if _, err := s.Forget(t.Context(), "nobody"); !errors.Is(err, ErrUnknown) {
		t.Errorf("%v", err)
	}
	if n, err := s.Forget(t.Context(), gone.Code); err != nil || n != 0 {
		t.Errorf("%d answers, %v", n, err)
	}
	sessions, err := s.Sessions(t.Context())
	if err != nil || len(sessions) != 1 || sessions[0].ID != stays.ID {
		t.Errorf("%d sessions, %v", len(sessions), err)
	}
	for _, suffix := range []string{"", "-wal"} {
		if b := readFile(t, s.Path()+suffix); bytes.Contains(b, []byte("cellar")) || bytes.Contains(b, []byte(gone.Token)) {
			t.Errorf("%s still holds the listener", suffix)
		}
	}
}

// Nothing of a browser is kept that the page does not say, and an anonymous export holds
// no code, hour, device or room.
func TestExports(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Settings.Trials, c.Settings.Practice = 5, 0 })
	c := r.listener(t, "Bowed chord", -45, 1)
	r.run(t, c)
	v, _ := r.session(t, c)
	results, err := Evaluate(t.Context(), r.store, nil)
	must(t, err)
	var plain, anonymous, document bytes.Buffer
	must(t, errors.Join(results.WriteCSV(&plain, Export{}), results.WriteCSV(&anonymous, Export{Anonymous: true}), results.WriteJSON(&document, Export{Anonymous: true})))
	if !strings.Contains(plain.String(), v.Code) || !strings.Contains(plain.String(), "headphones") {
		t.Error("the table lacks code or device")
	}
	for _, b := range []string{anonymous.String(), document.String()} {
		for _, word := range []string{v.Code, "headphones", v.Token} {
			if strings.Contains(b, word) {
				t.Errorf("the anonymous export holds %q", word)
			}
		}
	}
	if b := readFile(t, r.store.Path()+"-wal"); bytes.Contains(b, []byte("Go-http-client")) {
		t.Error("the browser's name is kept")
	}
}

// A set at hand with another stimulus under the same name gives no prediction, and the
// page says so.
func TestPredictionOfAnotherStimulus(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Settings.Trials, c.Settings.Practice = 5, 0 })
	r.run(t, r.listener(t, "Bowed chord", -45, 1))
	p := Prediction{Material: "Bowed chord", Stimulus: "of another drive", Residual: -50}
	results, err := Evaluate(t.Context(), r.store, []Prediction{p})
	must(t, err)
	if m := results.Materials[0]; m.Expected != nil || !slices.ContainsFunc(m.Warnings, func(w string) bool { return strings.Contains(w, "another stage, drive or material") }) {
		t.Errorf("%+v, %q", m.Expected, m.Warnings)
	}
	p.Stimulus = "of Bowed chord"
	if results, err = Evaluate(t.Context(), r.store, []Prediction{p}); err != nil || results.Materials[0].Expected == nil {
		t.Errorf("its own: %v", err)
	}
}

func readFile(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Fatal(err)
	}
	return b
}

// A file of version 1 is taken on with all that it holds.
func TestMigration(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.sqlite")
	db, err := connect(path, 1)
	must(t, err)
	_, err = db.Exec(schema1 + `PRAGMA application_id=1363365964; PRAGMA user_version=1;
		INSERT INTO session VALUES (1, 'tok', 'K7PW', '', 'm', '{"Method":"adaptive","Trials":50}', -70, -20, 5, 't', 'oldhash', '0.1', '7', 'dev', 71, 'browser', 48000, 0, 0, '2026-01-02T03:04:05Z', NULL, NULL);
		INSERT INTO trial VALUES (1, 1, 1, 'trial', 'test', -40, .01, 1.2, -40, 0, 2, 2, '2026-01-02T03:04:05Z', '2026-01-02T03:04:06Z');
		INSERT INTO rung VALUES ('m', 'oldhash', .01, 1.2, -40, 0);`)
	must(t, err)
	must(t, db.Close())
	s := openStore(t, path)
	sessions, err := s.Sessions(t.Context())
	if err != nil || len(sessions) != 1 || sessions[0].Stimulus != "oldhash" || *sessions[0].SPL != 71 || sessions[0].Playback != nil {
		t.Fatalf("%+v %v", sessions, err)
	}
	trials, err := s.Trials(t.Context(), 1)
	if err != nil || len(trials) != 1 || !trials[0].Right() {
		t.Errorf("%+v %v", trials, err)
	}
	if rungs, err := s.Rungs(t.Context(), "m", "oldhash"); err != nil || len(rungs) != 1 {
		t.Errorf("%+v %v", rungs, err)
	}
}
