package engine

import (
	"strings"
	"testing"
	"time"

	"quietcross/stage"
)

// TestEveryStage describes and solves every built-in stage at both ends of both
// sliders, quick and in full.
func TestEveryStage(t *testing.T) {
	for _, named := range stage.Builtin() {
		s := &Solver{}
		began := time.Now()
		sheet, err := s.Describe(named.Name)
		if err != nil {
			t.Errorf("%s: %v", named.Name, err)
			continue
		}
		described := time.Since(began)
		for _, c := range []struct {
			mode  string
			value float64
		}{
			{"as-built", 0},
			{"bias", 0},
			{"bias", sheet.MaximumBias},
			{"quiescent", sheet.MinimumQuiescent},
			{"quiescent", sheet.MaximumQuiescent},
		} {
			began = time.Now()
			r := Request{File: sheet.File, Load: sheet.Load, Ambient: sheet.Ambient, Mode: c.mode, Value: c.value, Drive: sheet.Drive, Quick: true}
			quick, err := s.Solve(r)
			if err != nil {
				t.Errorf("%s, %s %g: %v", named.Name, c.mode, c.value, err)
				continue
			}
			sketched := time.Since(began)
			t.Logf("%s, %s %g: described in %v, sketched in %v, %d cells", named.Name, c.mode, c.value, described, sketched, quick.Law.Cells())
		}
	}
}

// TestRefusals holds the page's refusals to those of the command line: key, found and
// legal.
func TestRefusals(t *testing.T) {
	s := &Solver{}
	sheet, err := s.Describe("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ file, want string }{
		{strings.Replace(sheet.File, "[supply]", "[supply]\nspare = 1", 1), "supply.spare: is no key"},
		{strings.Replace(sheet.File, "[load]", "[load]\nresistance = \"0ohm\"\n[gone]", 1), "stage"},
		{"pair-13w", "no built-in stage"},
		{"a = \n", "stage"},
	} {
		if _, err := s.Describe(c.file); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("said %v, want %q in it", err, c.want)
		}
	}
	if _, err := s.Solve(Request{File: sheet.File, Load: 8, Ambient: 25, Mode: "quiescent", Value: 1e6, Drive: 10}); err == nil || !strings.Contains(err.Error(), "quiescent") {
		t.Errorf("a million amperes: %v", err)
	}
}
