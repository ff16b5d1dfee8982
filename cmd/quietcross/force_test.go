package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/corpus"
	"quietcross/reports/panel/server"
)

// forceSet renders a small set and returns its folder and the command line that does.
func forceSet(t *testing.T) (out string, again []string) {
	t.Helper()
	out = filepath.Join(t.TempDir(), "set")
	args := []string{"--out", out, "--material", "tone", "--bias", "1.2V", "--level", "0"}
	if code, _, stderr := command(t, append([]string{"render"}, args...)...); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	return out, append([]string{"render", "--force"}, args...)
}

// TestForceKeepsAnswersAndSources replaces a set that holds what the program did not
// render: it is refused, says what to do, and nothing is lost.
func TestForceKeepsAnswersAndSources(t *testing.T) {
	out, again := forceSet(t)
	answers := filepath.Join(out, answersInSet)
	store, err := server.OpenStore(answers)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(answers)
	if err != nil {
		t.Fatal(err)
	}
	code, _, stderr := command(t, again...)
	if code != exitFailed || !strings.Contains(stderr, answersInSet) || !strings.Contains(stderr, "move them elsewhere") {
		t.Errorf("answers in the set: exit code %d, said %q", code, stderr)
	}
	if after, err := os.ReadFile(answers); err != nil || string(after) != string(before) {
		t.Errorf("the answers: %v, %d bytes, there were %d", err, len(after), len(before))
	}
	// They are found there, and used, as an earlier version left them.
	if code, _, stderr := command(t, "panel", "result", "--no-prediction", out); code != exitDone {
		t.Errorf("result: exit code %d, said %q", code, stderr)
	}
}

// TestInputsInTheOutputAreRefused renders a track of a set into that set, and with the
// set's own stage file.
func TestInputsInTheOutputAreRefused(t *testing.T) {
	out, _ := forceSet(t)
	for _, args := range [][]string{
		{"render", "--force", "--out", out, filepath.Join(out, "tone", "0dB", "reference.wav")},
		{"render", "--force", "--out", out, "--stage", filepath.Join(out, corpus.StageFile), "--material", "tone"},
	} {
		code, _, stderr := command(t, args...)
		if code != exitUsage || !strings.Contains(stderr, "lies in the output folder") || !strings.Contains(stderr, "--out") {
			t.Errorf("%q: exit code %d, said %q", args, code, stderr)
		}
	}
	if _, err := os.Stat(filepath.Join(out, "tone", "0dB", "reference.wav")); err != nil {
		t.Error(err)
	}
}

// TestOpenPanelLocksItsSet holds a set as an open panel does.
func TestOpenPanelLocksItsSet(t *testing.T) {
	out, again := forceSet(t)
	release, err := corpus.Hold(out)
	if err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := command(t, again...); code != exitFailed || !strings.Contains(stderr, "open panel") {
		t.Errorf("exit code %d, said %q", code, stderr)
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := command(t, again...); code != exitDone {
		t.Errorf("closed: exit code %d, said %q", code, stderr)
	}
}

// TestAnswersAreFound looks for the answers of a set at each of their places.
func TestAnswersAreFound(t *testing.T) {
	out, _ := forceSet(t)
	result := []string{"panel", "result", "--no-prediction", out}
	if code, _, stderr := command(t, result...); code != exitFailed || !strings.Contains(stderr, "no answers") || !strings.Contains(stderr, "--database") {
		t.Errorf("none: exit code %d, said %q", code, stderr)
	}
	beside := out + answersSuffix
	store, err := server.OpenStore(beside)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close() // results are had while a panel is open
	if code, _, stderr := command(t, result...); code != exitDone {
		t.Errorf("beside the set: exit code %d, said %q", code, stderr)
	}
	if info, err := os.Stat(beside); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", info.Mode(), err)
	}
	if code, _, stderr := command(t, "panel", "open", "--port", "0", out); code != exitFailed || !strings.Contains(stderr, "another panel") || !strings.Contains(stderr, "process") {
		t.Errorf("two servers: exit code %d, said %q", code, stderr)
	}
	moved := out + "-moved"
	if err := os.Rename(out, moved); err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := command(t, "panel", "result", "--no-prediction", moved); code != exitFailed || !strings.Contains(stderr, "moved") {
		t.Errorf("a moved set: exit code %d, said %q", code, stderr)
	}
	if code, _, stderr := command(t, "panel", "result", "--no-prediction", "--database", beside, moved); code != exitDone {
		t.Errorf("named: exit code %d, said %q", code, stderr)
	}
	if err := os.WriteFile(filepath.Join(moved, answersInSet), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(beside, moved+answersSuffix); err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := command(t, "panel", "result", "--no-prediction", moved); code != exitUsage || !strings.Contains(stderr, "name one of them") {
		t.Errorf("two files: exit code %d, said %q", code, stderr)
	}
}
