package server

import (
	"net/http"
	"os"
	"strings"
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
