package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestAdaptiveSessionFindsTheThreshold(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -48, 3)
	n := r.run(t, c)
	v, trials := r.session(t, c)
	if n != len(trials) || v.Finished.IsZero() {
		t.Errorf("%d trials seen, %d stored, finished %v", n, len(trials), v.Finished)
	}
	counts := map[Kind]int{}
	for i, tr := range trials {
		counts[tr.Kind]++
		if tr.Number != i+1 || tr.Open() {
			t.Errorf("trial %d: %+v", i+1, tr)
		}
	}
	if counts[Practice] != 4 || counts[Test] != 50 || counts[CatchLarge]+counts[CatchNull] < 4 {
		t.Errorf("kinds: %v", counts)
	}
	got, err := listenerResult(t.Context(), r.store, v)
	if err != nil {
		t.Fatal(err)
	}
	// Five standard deviations: where the catch trials fall is up to chance.
	if !got.Established || math.Abs(got.Threshold.Mean+48) > 5.5 {
		t.Errorf("threshold %+v, %s", got.Threshold, got.Why)
	}
	status, _, body, err := c.send("GET", "/over", "", "")
	if err != nil || status != 200 || !bytes.Contains(body, []byte("Your threshold here")) {
		t.Errorf("last page: %d %v %s", status, err, body)
	}
}

func TestEveryMethodEnds(t *testing.T) {
	triangle := Defaults(Triangle)
	triangle.Quiescent = 0.010
	for _, s := range []Settings{Defaults(Staircase), triangle, Defaults(Graded), Defaults(Multi)} {
		r := newRig(t, s, nil)
		c := r.listener(t, "Plucked line", -50, 4)
		r.run(t, c)
		v, trials := r.session(t, c)
		if v.Finished.IsZero() {
			t.Errorf("%s: not finished", s.Method)
		}
		if s.Method == Triangle && trials[len(trials)-1].Rung.Quiescent != 0.010 {
			t.Errorf("triangle at %g A", trials[len(trials)-1].Rung.Quiescent)
		}
		if status, _, body, err := c.send("GET", "/over", "", ""); err != nil || status != 200 {
			t.Errorf("%s: last page %d %v %s", s.Method, status, err, body)
		}
	}
}

// Nothing that reaches the browser before an answer may tell the trials or the
// intervals of a trial apart.
func TestKeyDoesNotLeak(t *testing.T) {
	clips := shortClips()
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Clips = clips })
	r.server.farsight.Store(false)
	c := r.listener(t, "Bowed chord", -45, 5)
	shapes := map[string]Kind{}
	for range 40 {
		status, _, body, err := c.send("GET", "/trial", "", "")
		if err != nil || status != 200 {
			t.Fatal(status, err)
		}
		var view trialView
		if err := json.Unmarshal(body, &view); err != nil {
			t.Fatal(err)
		}
		_, trials := r.session(t, c)
		last := trials[len(trials)-1]
		var any map[string]any
		json.Unmarshal(body, &any)
		delete(any, "clips")
		delete(any, "trial")
		delete(any, "number")
		shapes[fmt.Sprint(any)] = last.Kind
		before := clips.rendered.Load()
		equalClips(t, c, view)
		if n := clips.rendered.Load() - before; n != 0 {
			t.Errorf("%d renderings while clips were fetched: their times would tell", n)
		}
		_, got, err := c.answer(view.Trial, last.Odd)
		if err != nil {
			t.Fatal(err)
		}
		if (got.Odd != 0) != (last.Kind == Practice) || (got.Right != nil) != (last.Kind == Practice) {
			t.Errorf("receipt of a %s trial: %+v", last.Kind, got)
		}
		if status, _, _, _ := c.send("GET", "/clip/"+view.Clips[0], "", ""); status != http.StatusNotFound {
			t.Errorf("clip of an answered trial: %d", status)
		}
	}
	if len(shapes) != 2 { // practice, and everything else
		t.Errorf("trials of %d shapes: %v", len(shapes), shapes)
	}
	var pages strings.Builder
	for _, path := range []string{"/", "/level", "/listen", "/panel.js", "/panel.css"} {
		_, _, body, _ := c.send("GET", path, "", "")
		pages.Write(body)
	}
	for _, word := range []string{"catch-", "\"rendered", "\"role", "quiescent\"", "residual\""} {
		if strings.Contains(pages.String(), word) {
			t.Errorf("a page holds %q", word)
		}
	}
}

// equalClips checks that the three clips of a trial differ in nothing but their
// name and bytes: same status, headers and length, and no two equal in content,
// though two hold the same sound.
func equalClips(t *testing.T, c *client, view trialView) {
	t.Helper()
	var first http.Header
	seen := map[string]bool{}
	for i, clip := range view.Clips {
		status, header, body, err := c.send("GET", "/clip/"+clip, "", "")
		if err != nil || status != 200 || len(body) != 3*view.Channels*view.Frames {
			t.Fatalf("clip %d: %d %v, %d bytes", i, status, err, len(body))
		}
		header.Del("Date")
		if i == 0 {
			first = header
		} else if fmt.Sprint(header) != fmt.Sprint(first) {
			t.Errorf("headers differ: %v and %v", header, first)
		}
		if header.Get("Cache-Control") != "private, max-age=3600, immutable" || header.Get("ETag") != "" || header.Get("Last-Modified") != "" {
			t.Errorf("cache hints: %v", header)
		}
		if seen[string(body)] {
			t.Error("two clips are the same bytes")
		}
		seen[string(body)] = true
	}
}

// The order of a trial is uniform: each place is odd as often as the others,
// and the odd one is as often the reference. χ² with 5 degrees of freedom
// passes its limit here once in a million runs.
func TestOrderIsUniform(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	v, err := r.server.newSession(t.Context(), newcomer{material: "Bowed chord"})
	if err != nil {
		t.Fatal(err)
	}
	counts := map[string]int{}
	const n = 1800
	for range n {
		made, err := r.server.compose(v, step{kind: Test, level: -30})
		if err != nil {
			t.Fatal(err)
		}
		counts[presented(&made.trial)]++
	}
	if len(counts) != 6 {
		t.Fatalf("orders: %v", counts)
	}
	chi := 0.0
	for _, k := range counts {
		d := float64(k) - n/6
		chi += d * d / (n / 6)
	}
	if chi > (distuv.ChiSquared{K: 5}).Quantile(1-1e-6) {
		t.Errorf("χ² %.1f: %v", chi, counts)
	}
}

func TestAnswersAreFinal(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 6)
	view, err := c.trial()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct{ choice, status int }{{2, 200}, {2, 200}, {3, 409}, {2, 200}} {
		if status, _, err := c.answer(view.Trial, want.choice); err != nil || status != want.status {
			t.Errorf("choice %d: %d %v, want %d", want.choice, status, err, want.status)
		}
	}
	if _, trials := r.session(t, c); len(trials) != 1 || trials[0].Choice != 2 {
		t.Errorf("stored: %+v", trials)
	}
}

func TestTwoWindowsOfOneListener(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 7)
	done := make(chan trialView, 8)
	for range cap(done) {
		go func() {
			v, _ := c.trial()
			done <- v
		}()
	}
	first := <-done
	for range cap(done) - 1 {
		if v := <-done; v.Trial != first.Trial || v.Clips[0] != first.Clips[0] {
			t.Errorf("two windows see two trials: %v and %v", first.Trial, v.Trial)
		}
	}
}

func TestSessionOfAnotherSetDoesNotGoOn(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 8)
	r.server.ladders["Bowed chord"].stimulus = "another"
	if status, _, _, _ := c.send("GET", "/trial", "", ""); status != http.StatusUnauthorized {
		t.Errorf("status %d", status)
	}
}

// A listener who goes on with another material keeps the code; somebody else in
// the same browser gets another; a second session on one material is not a
// second listener.
func TestListenerKeepsTheCode(t *testing.T) {
	short := Defaults(Adaptive)
	short.Trials, short.Practice, short.CatchEvery = 30, 0, 0
	r := newRig(t, short, nil)
	c := r.listener(t, "Bowed chord", -45, 9)
	codes := []string{}
	for _, form := range []string{"consent=yes&material=Plucked+line&same=yes", "consent=yes&material=Plucked+line&same=yes&name=ignored", "consent=yes&material=Plucked+line"} {
		r.run(t, c)
		v, _ := r.session(t, c)
		codes = append(codes, v.Code)
		if status, _, body, err := c.send("POST", "/begin", "application/x-www-form-urlencoded", form); err != nil || status != 200 {
			t.Fatal(status, err, string(body))
		}
		must(t, c.setLevel())
	}
	r.run(t, c)
	v, _ := r.session(t, c)
	codes = append(codes, v.Code)
	if codes[0] != codes[1] || codes[1] != codes[2] || codes[3] == codes[0] {
		t.Errorf("codes %v", codes)
	}
	got, err := Evaluate(t.Context(), r.store, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range got.Materials {
		kept := map[string]int{}
		for _, l := range m.Listeners {
			if l.Kept {
				kept[l.Session.Code]++
			}
		}
		for code, n := range kept {
			if n != 1 {
				t.Errorf("%s: listener %s counts %d times", m.Material, code, n)
			}
		}
	}
}

// While a trial is listened to, the next is rendered for either answer.
func TestNextTrialIsRenderedAhead(t *testing.T) {
	clips := shortClips()
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Clips = clips })
	c := r.listener(t, "Bowed chord", -45, 5)
	for range 12 {
		view, err := c.trial()
		if err != nil {
			t.Fatal(err)
		}
		for len(r.server.ahead) > 0 {
			time.Sleep(time.Millisecond)
		}
		before := clips.rendered.Load()
		r.server.farsight.Store(false) // only what the trial itself renders counts
		if _, _, err := c.answer(view.Trial, 1); err != nil {
			t.Fatal(err)
		}
		if view, err = c.trial(); err != nil {
			t.Fatal(err)
		}
		r.server.farsight.Store(true)
		if n := clips.rendered.Load() - before; n != 0 {
			t.Errorf("trial %d: %d renderings were left to do", view.Number, n)
		}
		if _, _, err := c.answer(view.Trial, 1); err != nil {
			t.Fatal(err)
		}
	}
}

// A material that cannot be tested is named, and the others go on.
func TestUnusableMaterialIsNotOffered(t *testing.T) {
	flat := faulty{synthetic: shortClips()}
	flat.only = "Bowed chord"
	flat.rendering = func(a [][]float64, r Rung) ([][]float64, Rung, error) { r.Residual = -40; return a, r, nil }
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Clips = flat })
	c := newClient(r.http.URL)
	_, _, body, err := c.send("GET", "/", "", "")
	if err != nil || bytes.Contains(body, []byte("<option>Bowed")) || !bytes.Contains(body, []byte("<option>Plucked")) || !bytes.Contains(body, []byte("Not offered: ")) {
		t.Errorf("%v %s", err, body)
	}
	flat.only = ""
	server, err := NewServer(Config{Clips: flat, Store: r.store, Settings: Defaults(Adaptive)})
	if err != nil {
		t.Fatal(err)
	}
	if err := server.Prepare(t.Context(), nil); err == nil {
		t.Error("a set without a usable material was prepared")
	}
}
