package server

import (
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// TestFullDisk is [TestFullDatabase] on a real full disk: a small tmpfs, filled up.
func TestFullDisk(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("mounting a tmpfs needs root; TestFullDatabase covers the error itself")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("no tmpfs can be mounted here: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	store, err := OpenStore(filepath.Join(dir, "panel.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Store = store })
	r.store = store
	c := r.listener(t, "Bowed chord", -45, 1)
	view, err := c.trial()
	if err != nil {
		t.Fatal(err)
	}
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 2<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk is not full: %v", err)
	}
	refused := false
	for n := 0; n < 400 && !refused; n++ { // until the log has no room left
		status, _, err := c.answer(view.Trial, 2)
		if err != nil {
			t.Fatal(err)
		}
		if refused = status == http.StatusInsufficientStorage; refused {
			break
		}
		next, err := c.trial()
		if refused = err != nil && strings.Contains(err.Error(), "507"); !refused {
			view = next
		}
	}
	if !refused {
		t.Error("a full disk was not noticed")
	}
	os.Remove(ballast)
	if status, _, err := c.answer(view.Trial, 2); err != nil || status != 200 && status != 409 {
		t.Errorf("with room again: %d %v", status, err)
	}
	_, trials := r.session(t, c)
	for _, tr := range trials {
		if tr.Choice != 2 && !tr.Open() {
			t.Errorf("stored: %+v", tr)
		}
	}
	var state string
	if err := store.db.QueryRow("PRAGMA integrity_check").Scan(&state); err != nil || state != "ok" {
		t.Errorf("integrity %s %v", state, err)
	}
}
