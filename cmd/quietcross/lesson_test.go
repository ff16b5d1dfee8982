package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/reports/view/caution"
)

// TestLesson writes page, handout and key where this program was built with the engine,
// and elsewhere is refused with what to do; nothing is left behind then.
func TestLesson(t *testing.T) {
	dir := t.TempDir()
	page, handout, key := filepath.Join(dir, "lesson.html"), filepath.Join(dir, "handout.html"), filepath.Join(dir, "key.html")
	args := []string{"lesson", "--stage", "pair-1w", "--out", page, "--handout", handout, "--key", key, "--seed", "3"}
	code, stdout, stderr := command(t, args...)
	if code != exitDone {
		if code != exitFailed || !strings.Contains(stderr, "make build") {
			t.Errorf("exit code %d, said %q", code, stderr)
		}
		if left, _ := os.ReadDir(dir); len(left) != 0 {
			t.Errorf("left behind: %v", left)
		}
		return
	}
	for _, path := range []string{page, handout, key} {
		if !strings.Contains(stdout, path) {
			t.Errorf("said %q, not %s", stdout, path)
		}
	}
	pageHolds(t, page, append(caution.Bench(), caution.Hearing))
	pageHolds(t, key, append(caution.Bench(), caution.Hearing))
	pageHolds(t, handout, []string{caution.Hearing})
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), "--stage pair-1w") {
		t.Error("the blind test is not of the stage that was named")
	}
	if code, _, stderr := command(t, args...); code != exitUsage || !strings.Contains(stderr, "--force") {
		t.Errorf("second run: exit code %d, said %q", code, stderr)
	}
}

func TestLessonUsage(t *testing.T) {
	for _, c := range []struct {
		line, want string
		code       int
	}{
		{"lesson mine.toml", "--stage", exitUsage},
		{"lesson --stage tube --out no-such-lesson.html", "pair-12w", exitUsage},
		{"lesson --playback 200 --out no-such-lesson.html", "200", exitUsage},
		{"lesson --file no-such-song.wav --out no-such-lesson.html", "no-such-song.wav", exitFailed},
	} {
		if code, _, stderr := command(t, strings.Fields(c.line)...); code != c.code || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: exit code %d, said %q", c.line, code, stderr)
		}
	}
}
