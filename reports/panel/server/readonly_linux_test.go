package server

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// The answers on read-only media, with a log that a killed server has left, are read as
// they are.
func TestReadOnlyMedia(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("mounting a tmpfs needs root")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=4m"); err != nil {
		t.Skipf("no tmpfs can be mounted here: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	live := filepath.Join(t.TempDir(), "live.sqlite")
	s := openStore(t, live)
	_, tr := sample(t, s)
	must(t, s.answer(tr.ID, 2, attempt{}, time.Now()))
	path := filepath.Join(dir, "panel.sqlite")
	must(t, errors.Join(copyFile(live, path), copyFile(live+"-wal", path+"-wal")))
	must(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	got, err := ReadStore(path)
	must(t, err)
	sessions, err := got.Sessions(t.Context())
	must(t, err)
	if len(sessions) != 1 {
		t.Fatalf("%d sessions", len(sessions))
	}
	trials, err := got.Trials(t.Context(), sessions[0].ID)
	if err != nil || len(trials) != 1 || trials[0].Choice != 2 {
		t.Errorf("%+v %v", trials, err)
	}
	temporary := got.temporary
	must(t, got.Close())
	if _, err := os.Stat(temporary); err == nil {
		t.Error("the copy is left")
	}
	if _, err := OpenStore(path); !errors.Is(err, syscall.EROFS) {
		t.Errorf("open for answers: %v", err)
	}
}

// A file has one server at a time, and its remains do not keep the next out.
func TestOneServerAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "panel.sqlite")
	first := openStore(t, path)
	if _, err := OpenStore(path); !errors.Is(err, ErrServed) {
		t.Errorf("two servers: %v", err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v %v", info.Mode(), err)
	}
	if info, err := os.Stat(path + "-wal"); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode of the log %v %v", info.Mode(), err)
	}
	must(t, first.Close())
	must(t, os.WriteFile(path+".lock", []byte("process 1\n"), 0o600)) // of a server that was killed
	openStore(t, path)
}
