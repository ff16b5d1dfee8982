package whole

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// put writes text and then returns err.
func put(text string, err error) func(io.Writer) error {
	return func(w io.Writer) error {
		_, failed := io.WriteString(w, text)
		return errors.Join(failed, err)
	}
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// TestWholeOrNotThere writes a file, and fails half-way through writing it anew.
func TestWholeOrNotThere(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.txt")
	if err := Write(path, put("whole", nil)); err != nil {
		t.Fatal(err)
	}
	failure := errors.New("no")
	if err := Write(path, put("half", failure)); !errors.Is(err, failure) {
		t.Errorf("error %v", err)
	}
	if got, err := os.ReadFile(path); string(got) != "whole" {
		t.Errorf("the file holds %q, %v", got, err)
	}
	if left := names(t, dir); len(left) != 1 {
		t.Errorf("left: %q", left)
	}
}

// TestFinalNameComesLast looks at the folder while a file is being written, and
// cannot rename it over a folder that is not empty.
func TestFinalNameComesLast(t *testing.T) {
	dir := t.TempDir()
	err := Write(filepath.Join(dir, "a.txt"), func(io.Writer) error {
		if now := names(t, dir); len(now) != 1 || !strings.HasPrefix(now[0], ".") || !strings.HasSuffix(now[0], ".part") {
			t.Errorf("while writing: %q", now)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	taken := filepath.Join(dir, "taken")
	if err := os.MkdirAll(filepath.Join(taken, "full"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := Write(taken, put("x", nil)); err == nil {
		t.Error("a folder was written over")
	}
	if left := names(t, dir); len(left) != 2 {
		t.Errorf("left: %q", left)
	}
	if err := Write(filepath.Join(dir, "missing", "a.txt"), put("x", nil)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("in a folder that is not there: %v", err)
	}
}

// TestNoFreeName gives up where each name is taken.
func TestNoFreeName(t *testing.T) {
	tried := map[string]bool{}
	err := unused("a/b", func(name string) error { tried[name] = true; return os.ErrExist })
	if err == nil || !strings.Contains(err.Error(), "a/b") || len(tried) != 100 {
		t.Errorf("%d names tried, error %v", len(tried), err)
	}
}
