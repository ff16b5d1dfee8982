package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/reports/view/caution"
)

// TestLive writes a page where this program was built with the engine, and elsewhere is
// refused with what to do; nothing is left behind then.
func TestLive(t *testing.T) {
	path := filepath.Join(t.TempDir(), "live.html")
	code, stdout, stderr := command(t, "live", "--stage", "darlington-30w", "--out", path)
	if code != exitDone {
		if code != exitFailed || !strings.Contains(stderr, "make build") {
			t.Errorf("exit code %d, said %q", code, stderr)
		}
		if left, _ := os.ReadDir(filepath.Dir(path)); len(left) != 0 {
			t.Errorf("left behind: %v", left)
		}
		return
	}
	page, err := os.ReadFile(path)
	if err != nil || !strings.Contains(stdout, path) {
		t.Fatalf("%v, said %q", err, stdout)
	}
	if !strings.Contains(string(page), `<option value="darlington-30w" selected>`) {
		t.Error("the page does not begin with the stage that was named")
	}
	pageHolds(t, path, append(caution.Bench(), caution.Hearing))
	if code, _, stderr := command(t, "live", "--out", path); code != exitUsage || !strings.Contains(stderr, "--force") {
		t.Errorf("second run: exit code %d, said %q", code, stderr)
	}
}

func TestLiveUsage(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"live mine.toml", "--stage"},
		{"live --stage tube --out no-such-live.html", "pair-12w"},
	} {
		if code, _, stderr := command(t, strings.Fields(c.line)...); code != exitUsage || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: exit code %d, said %q", c.line, code, stderr)
		}
	}
}
