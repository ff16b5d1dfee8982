package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/reports/panel/server"
)

// Nothing that is there is written over without --force, the answers not even with it, and
// a file that is no result page is not taken for one. The page that was not named is made
// anew, for it is the program's own.
func TestResultWritesOverNothing(t *testing.T) {
	set := toneSet(t)
	answers := set + answersSuffix
	store, err := server.OpenStore(answers)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	page := strings.TrimSuffix(answers, filepath.Ext(answers)) + ".html"
	mine := filepath.Join(t.TempDir(), "mine")
	if err := os.WriteFile(mine, []byte("of the user"), 0o600); err != nil {
		t.Fatal(err)
	}
	read := func(path string) string {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	result := func(want string, flags ...string) {
		t.Helper()
		code, _, stderr := command(t, append(append([]string{"panel", "result", "--no-prediction"}, flags...), set)...)
		if (code == exitDone) != (want == "") || !strings.Contains(stderr, want) {
			t.Errorf("%q: exit code %d, said %q, want %q", flags, code, stderr, want)
		}
	}
	result("")
	result("")
	for _, flag := range []string{"--page", "--csv", "--json", "--listener"} {
		result("--force", flag, mine)
		if got := read(mine); got != "of the user" {
			t.Fatalf("%s wrote %q over it", flag, got)
		}
	}
	before := read(answers)
	for _, flag := range []string{"--page", "--csv", "--json", "--listener"} {
		result("belongs to the answers", "--force", flag, answers)
	}
	result("name one file", "--csv", mine+"2", "--json", mine+"2")
	result("no usable answers", "--listener", mine+"3")
	if _, err := os.Stat(mine + "3"); err == nil || read(answers) != before {
		t.Error("a listener's file without answers, or changed answers")
	}
	result("", "--force", "--csv", mine)
	if !strings.Contains(read(mine), "session") {
		t.Errorf("with --force it holds %q", read(mine))
	}
	if err := os.WriteFile(page, []byte("<title>Something else</title>"), 0o600); err != nil {
		t.Fatal(err)
	}
	result("--force")
	if !strings.Contains(read(page), "Something else") {
		t.Error("a page of the user's was written over")
	}
}
