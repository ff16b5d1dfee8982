package main

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"testing"
	"time"

	"quietcross/reports/panel/server"
	"quietcross/reports/panel/set"
)

// A fit and a listening panel end in figures that other commands print too: the current
// that a fitted bias gives is inspect's, and what the panel predicts of a set at a current
// is what a set rendered at that current, and its report, say.

// TestFitAgreesWithInspect sets the fitted stage file at the fitted bias and at the fitted
// current: bias and current go together in both commands.
func TestFitAgreesWithInspect(t *testing.T) {
	dir := t.TempDir()
	rendered := filepath.Join(dir, "set")
	code, _, stderr := command(t, "render", "--material", "ladder", "--stage", "pair-1w", "--quiescent", "3mA",
		"--drive", "3V", "--match", "off", "--level", "0", "--out", rendered)
	if code != exitDone {
		t.Fatal(stderr)
	}
	fitted := filepath.Join(dir, "fitted.toml")
	result := part(t, jsonOf(t, "fit", "--json", "--stage", "pair-1w", "--full-scale", "3V", "--out", fitted,
		filepath.Join(rendered, "ladder", "0dB", "01-quiescent-3mA.wav")), "fit").(object)
	said := object{"bias_v": result["bias_v"]}
	for _, p := range part(t, result, "parameters").([]any) {
		if p := p.(object); p["key"] == "quiescent" {
			said["quiescent_a"] = p["value"]
		}
	}
	for flag, value := range map[string]any{"--bias": fmt.Sprintf("%.17gV", said["bias_v"]), "--quiescent": fmt.Sprintf("%.17gA", said["quiescent_a"])} {
		look := part(t, jsonOf(t, "stage", "inspect", "--json", flag, value.(string), fitted), "rungs", 0).(object)
		if n := same(t, "fit and inspect "+flag, said, look); n != 2 {
			t.Errorf("%s: fit and inspect share %d figures, want bias and current", flag, n)
		}
	}
}

// TestPanelAgreesWithReport lets one listener answer at a set of a short sine, and renders
// the set anew at the current that the result predicts.
func TestPanelAgreesWithReport(t *testing.T) {
	sine := sineFile(t, 1)
	render := func(current string) string {
		out := filepath.Join(t.TempDir(), "set")
		if code, _, stderr := command(t, "render", "--stage", "pair-12w", "--level", "-20", "--quiescent", current, "--out", out, sine); code != exitDone {
			t.Fatal(stderr)
		}
		return out
	}
	dir := render("1mA")
	answered(t, dir)
	table := filepath.Join(t.TempDir(), "result.json")
	if code, _, stderr := command(t, "panel", "result", "--json", table, dir); code != exitDone {
		t.Fatal(stderr)
	}
	number := part(t, setFile(t, filepath.Dir(table), filepath.Base(table)), "materials", 0, "by_number").(object)
	again := render(fmt.Sprintf("%.17gA", part(t, number, "quiescent_a")))
	said := object{"quiescent_a": number["quiescent_a"], "bias_v": number["bias_v"]}
	for _, name := range []string{"manifest.json", "report.json"} {
		file := setFile(t, again, name)
		if n := same(t, "panel and "+name, said, part(t, file, "rungs", 0).(object)); n != 2 {
			t.Errorf("panel and %s share %d figures, want bias and current", name, n)
		}
		residual := part(t, file, "items", 0, "renderings", 0, "residual").(object)
		if x, y := part(t, number, "residual_db").(float64), part(t, residual, "level_db").(float64); math.Abs(x-y) > 0.05 {
			t.Errorf("the panel predicts a residual of %.2f dB, %s has %.2f dB", x, name, y)
		}
	}
}

// answered opens the panel of a set in this process and lets one listener answer all.
func answered(t *testing.T, dir string) {
	t.Helper()
	clips, err := set.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	store, err := server.OpenStore(dir + answersSuffix)
	if err != nil {
		t.Fatal(err)
	}
	settings := server.Defaults(server.Adaptive)
	settings.Practice, settings.Trials, settings.Most, settings.Listen, settings.BreakEvery = 0, 20, 20, 0, 0
	panel, err := server.NewServer(server.Config{Clips: clips, Store: store, Settings: settings, Noise: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	if err := panel.Prepare(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(panel.Handler())
	jar, _ := cookiejar.New(nil)
	s := &survivor{http: &http.Client{Jar: jar}, begun: true, saved: map[string]int{}}
	const form = "application/x-www-form-urlencoded"
	ask := func(method, path, kind, body string, into any) {
		t.Helper()
		if status, err := s.call(method, web.URL+path, kind, body, into); err != nil || status != http.StatusOK {
			t.Fatal(path, status, err)
		}
	}
	ask("POST", "/begin", form, url.Values{"material": {clips.Materials()[0]}, "consent": {"yes"}}.Encode(), nil)
	ask("GET", "/noise", "", "", nil)
	ask("POST", "/noise", "application/json", `{"seconds":0.002}`, nil)
	ask("POST", "/level", form, url.Values{"read": {"yes"}, "how": {"meter"}, "spl": {"66"}}.Encode(), nil)
	for n := 0; ; n++ {
		var trial struct {
			Over  bool
			Trial string
		}
		ask("GET", "/trial", "", "", &trial)
		if trial.Over {
			break
		}
		ask("POST", "/answer", "application/json", fmt.Sprintf(`{"trial":%q,"choice":%d}`, trial.Trial, 1+n%3), nil)
	}
	web.Close()
	if err := errors.Join(panel.Close(), store.Close()); err != nil {
		t.Fatal(err)
	}
}
