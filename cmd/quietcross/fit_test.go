package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A rendered ladder is a recording of a stage whose current is known: the fit finds
// it, and writes a stage file that can be used.
func TestFitCommand(t *testing.T) {
	dir := t.TempDir()
	set := filepath.Join(dir, "set")
	code, _, stderr := command(t, "render", "--material", "ladder", "--stage", "pair-1w", "--quiescent", "3mA",
		"--drive", "3V", "--match", "off", "--level", "0", "--out", set)
	if code != exitDone {
		t.Fatalf("render: exit code %d, said %q", code, stderr)
	}
	recording := filepath.Join(set, "ladder", "0dB", "01-quiescent-3mA.wav")
	fittedStage, page := filepath.Join(dir, "fitted.toml"), filepath.Join(dir, "fit.html")
	code, stdout, stderr := command(t, "fit", "--stage", "pair-1w", "--full-scale", "3V", "--out", fittedStage, "--page", page, recording)
	if code != exitDone {
		t.Fatalf("fit: exit code %d, said %q", code, stderr)
	}
	stdout = strings.ReplaceAll(stdout, "\u00a0", " ")
	if !strings.Contains(stdout, "quiescent") || !strings.Contains(stdout, " 3.00") && !strings.Contains(stdout, " 2.99") {
		t.Errorf("printed %q, the quiescent current is 3 mA", stdout)
	}
	if info, err := os.Stat(page); err != nil || info.Size() < 1000 {
		t.Errorf("the page: %v", err)
	}
	pageHolds(t, page, cautions["fit"])
	if code, _, stderr := command(t, "stage", "inspect", fittedStage); code != exitDone {
		t.Errorf("the fitted stage: exit code %d, said %q", code, stderr)
	}
	for _, c := range []struct {
		line string
		code int
		want string
	}{
		{"fit --full-scale 3V", exitUsage, "one recording"},
		{"fit " + recording, exitUsage, "full-scale"},
		{"fit --full-scale 0V " + recording, exitUsage, "1 mV to 10 kV"},
		{"fit --full-scale 3V --channel 2 " + recording, exitUsage, "--channel"},
		{"fit --full-scale 3V --stage pair-1w --free whiskers.length " + recording, exitFailed, "whiskers.length"},
		{"fit --full-scale 300V --stage pair-1w " + recording, exitFailed, "full scale"},
	} {
		code, _, stderr := command(t, strings.Fields(c.line)...)
		if code != c.code || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: exit code %d, said %q, want %d and %q", c.line, code, stderr, c.code, c.want)
		}
	}
}
