package server

import (
	"net/http"
	"strings"
	"testing"
)

// A study of two kept listeners: one who names the largest differences wrong is left out
// by the criteria of the plan and does not end it.
func TestStudyEndsByKeptListeners(t *testing.T) {
	plan := study(t, `
[session]
practice = 0
trials = 12
catch_every = 4
minimum_listening = "0s"
break_every = 0
[exclude]
missed_large_more_than = 0
[stop]
listeners = 2
`)
	plan.Materials = []string{"Bowed chord"}
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Plan, c.RunKey = plan, "key" })
	attend := func(right bool) (status int) {
		c := newClient(r.http.URL)
		if err := c.begin(""); err != nil {
			if !strings.Contains(err.Error(), "study is complete") {
				t.Fatal(err)
			}
			return http.StatusConflict
		}
		for {
			view, err := c.trial()
			must(t, err)
			if view.Over {
				return http.StatusOK
			}
			_, trials := r.session(t, c)
			choice := trials[len(trials)-1].Odd
			if !right {
				choice = choice%3 + 1
			}
			if status, _, err := c.answer(view.Trial, choice); err != nil || status != 200 {
				t.Fatal(status, err)
			}
		}
	}
	for i, l := range []struct {
		right bool
		want  int
	}{{true, 200}, {false, 200}, {false, 200}, {true, 200}, {true, 409}} {
		if got := attend(l.right); got != l.want {
			t.Errorf("listener %d: %d, want %d", i+1, got, l.want)
		}
	}
	_, _, page, err := newClient(r.http.URL).send("GET", "/run/key", "", "")
	must(t, err)
	if !strings.Contains(string(page), "4 listeners have finished everything, 2 of 2 that are wanted") {
		t.Errorf("%s", page)
	}
}

// What a plan needs, method by method: 3 dB among listeners and 2 dB to find are 0.667
// standard deviations, a grade of 0.5 in 0.7 is 0.714; the counts are those of the
// noncentral t distribution, checked in statistics. One triangle test of 24 trials has a
// power over 0.8 alone.
func TestPlansStateTheirListeners(t *testing.T) {
	for text, want := range map[string]string{
		`method = "adaptive"`:                                          "needs 20 kept listeners; the plan names no number",
		`method = "staircase"`:                                         "needs 20 kept listeners",
		`method = "graded"`:                                            "needs 18 kept listeners",
		`method = "multi-stimulus"`:                                    "needs 18 kept listeners",
		"method = \"triangle\"\n[session]\nquiescent = \"5mA\"":        "needs 1 kept listener;",
		"[stop]\nlisteners = 19":                                       "which is too few",
		"[power]\ndifference = 3\nbetween = 2\n[stop]\nlisteners = 19": "needs 6 kept listeners; the plan ends after 19.",
		"method = \"triangle\"\n[session]\nquiescent = \"5mA\"\ntrials = 60\n[power]\nshare = 0.3\npower = 0.9": "kept listener",
	} {
		if got := study(t, text).Power(); !strings.Contains(got, want) {
			t.Errorf("%q: %s", text, got)
		}
	}
	for _, text := range []string{"[power]\ndifference = 0", "[power]\nbetween = -1"} {
		if _, err := ReadPlan(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), "power.difference") {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// The page on which the level is set says what can hurt, in the program's one text.
func TestLevelPageSaysTheCaution(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	_, _, page, err := c.send("GET", "/level", "", "")
	must(t, err)
	for _, want := range []string{"harms hearing for good", "burn a tweeter", "local rules on exposure", "never raise it past what is comfortable"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
