//go:build unix

package whole

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// TestUmask holds permissions to those that the system gives a file made
// without a wrapper, under three umasks.
func TestUmask(t *testing.T) {
	for _, mask := range []int{0o022, 0o077, 0o002} {
		dir := t.TempDir()
		old := syscall.Umask(mask)
		if file, err := os.Create(filepath.Join(dir, "plain")); err == nil {
			file.Close()
		}
		err := Write(filepath.Join(dir, "ours"), put("x", nil))
		syscall.Umask(old)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := mode(t, filepath.Join(dir, "ours")), mode(t, filepath.Join(dir, "plain")); got != want {
			t.Errorf("umask %03o: a file of mode %v, the system's is %v", mask, got, want)
		}
	}
}

func mode(t *testing.T, path string) os.FileMode {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return info.Mode()
}
