package server

import (
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
)

// With a full database an answer is refused by name, stays open, and is taken
// when there is room again.
func TestFullDatabase(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	// The limit makes the next page of the file fail with the error of a full disk.
	limit := func(pages string) {
		if _, err := r.store.db.Exec("PRAGMA max_page_count=" + pages); err != nil {
			t.Fatal(err)
		}
	}
	limit("1") // as many as there are
	answered := 0
	for range 400 {
		view, err := c.trial()
		if err != nil {
			if !strings.Contains(err.Error(), "507") {
				t.Fatal(err)
			}
			break
		}
		if view.Over {
			t.Fatal("the session ended before the file was full")
		}
		if status, _, err := c.answer(view.Trial, 2); err != nil || status != 200 {
			t.Fatal(status, err)
		}
		answered++
	}
	limit("1000000")
	_, trials := r.session(t, c)
	if len(trials) != answered {
		t.Errorf("%d answers sent, %d trials stored", answered, len(trials))
	}
	for _, tr := range trials {
		if tr.Choice != 2 || len(tr.Items) != 3 {
			t.Errorf("stored: %+v", tr)
		}
	}
	if _, err := c.trial(); err != nil {
		t.Errorf("with room again: %v", err)
	}
}

// The same on a real full disk: a small tmpfs, filled up.
func TestFullDisk(t *testing.T) {
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("mounting a tmpfs needs Linux and root; TestFullDatabase covers the error itself")
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

// Damage that appears while the server runs is reported, and nothing is
// pretended to be saved.
func TestDamageWhileRunning(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	view, err := c.trial()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.store.db.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(r.store.Path())
	if err != nil {
		t.Fatal(err)
	}
	for i := 100; i < len(b); i++ {
		b[i] = 0xff
	}
	if err := os.WriteFile(r.store.Path(), b, 0o600); err != nil {
		t.Fatal(err)
	}
	r.store.db.Exec("PRAGMA shrink_memory")
	if status, got, err := c.answer(view.Trial, 2); err != nil || status != http.StatusInternalServerError || got.Saved {
		t.Errorf("answer on a damaged file: %d %+v %v", status, got, err)
	}
}
