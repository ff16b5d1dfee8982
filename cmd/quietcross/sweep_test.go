package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestSweepCommand(t *testing.T) {
	dir := t.TempDir()
	page, table := filepath.Join(dir, "a.html"), filepath.Join(dir, "a.csv")
	code, stdout, stderr := command(t, "sweep", "--bias", "0,1.2V", "--level", "0,-20", "--frequency", "1kHz", "--page", page, "--csv", table, "pair-1w")
	if code != exitDone || !strings.Contains(stdout, "THD+N without noise at 1.00") {
		t.Fatalf("exit code %d, said %q, printed %q", code, stderr, stdout)
	}
	for _, path := range []string{page, table} {
		if info, err := os.Stat(path); err != nil || info.Size() < 500 {
			t.Errorf("%s: %v", path, err)
		}
	}
	for _, c := range []struct{ line, want string }{
		{"sweep pair-1w pair-12w", "one stage"},
		{"sweep --stage pair-1w pair-12w", "one stage"},
		{"sweep --frequency 30kHz", "20 kHz"},
		{"sweep --level loud", "--level"},
		{"sweep nothing", "pair-12w"},
	} {
		code, _, stderr := command(t, strings.Fields(c.line)...)
		if code != exitUsage || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: exit code %d, said %q, want %q", c.line, code, stderr, c.want)
		}
	}
}
