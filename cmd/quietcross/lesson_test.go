package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/reports/view/caution"
)

// TestLesson writes a short lesson of another stage than the usual one, and will
// not write over it.
func TestLesson(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lesson.html")
	args := []string{"lesson", "--stage", "pair-1w", "--seconds", "1", "--solver", "static", "--out", path}
	code, stdout, stderr := command(t, args...)
	if code != exitDone || !strings.Contains(stdout, path) {
		t.Fatalf("exit code %d: %s%s", code, stdout, stderr)
	}
	pageHolds(t, path, append(caution.Bench(), caution.Hearing))
	page, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1 W complementary pair", "--stage pair-1w", `id="sound-7"`, "Two diodes"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if code, _, stderr := command(t, args...); code != exitUsage || !strings.Contains(stderr, "--force") {
		t.Errorf("second run: exit code %d, said %q", code, stderr)
	}
}

func TestLessonUsage(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"lesson mine.toml", "--stage"},
		{"lesson --stage tube --out no-such-lesson.html", "pair-12w"},
		{"lesson --solver slow --out no-such-lesson.html", "auto, static and dynamic"},
	} {
		if code, _, stderr := command(t, strings.Fields(c.line)...); code != exitUsage || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: exit code %d, said %q", c.line, code, stderr)
		}
	}
}
