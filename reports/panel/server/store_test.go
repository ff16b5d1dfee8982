package server

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// sample stores a session with one open trial.
func sample(t *testing.T, s *Store) (*Session, *Trial) {
	t.Helper()
	v := &Session{Token: token(), Code: Code(4), Material: "m", Settings: Defaults(Adaptive), Lo: -70, Hi: -20, Seed: seed(), SetSeed: 1<<64 - 1, ClipRate: 48000, Begun: time.Now()}
	if err := s.addSession(v); err != nil {
		t.Fatal(err)
	}
	tr := &Trial{Session: v.ID, Number: 1, Token: token(), Kind: Test, Odd: 2, Rung: Rung{0.01, 1.2, -40, 0.1, 0}, Started: time.Now()}
	for p := range 3 {
		tr.Items = append(tr.Items, Item{Position: p + 1, Token: token(), Seed: seed(), Role: Reference})
	}
	if err := s.addTrial(tr); err != nil {
		t.Fatal(err)
	}
	return v, tr
}

func TestStoreKeepsEverything(t *testing.T) {
	path := filepath.Join(t.TempDir(), "with space & sign?.sqlite")
	s := openStore(t, path)
	v, tr := sample(t, s)
	spl := 71.5
	v.Device, v.SPL = "headphones", &spl
	if err := errors.Join(s.setLevel(v, time.Now()), s.setRates(v.ID, 48000, 44100), s.answer(tr.ID, 2, attempt{[]float64{1, 2.5, 3}, 7}, time.Now())); err != nil {
		t.Fatal(err)
	}
	s.Close()
	s = openStore(t, path)
	got, err := s.session(t.Context(), v.Token)
	if err != nil {
		t.Fatal(err)
	}
	if got.Settings != v.Settings || got.Seed != v.Seed || got.SetSeed != v.SetSeed || *got.SPL != spl || !got.Resampled() {
		t.Errorf("session %+v", got)
	}
	trials, err := s.Trials(t.Context(), v.ID)
	if err != nil || len(trials) != 1 {
		t.Fatal(len(trials), err)
	}
	if g := trials[0]; !g.Right() || g.Rung != tr.Rung || len(g.Items) != 3 || g.Switches != 7 || len(g.Heard) != 3 || g.Heard[1] != 2.5 || g.Items[2].Seed != tr.Items[2].Seed {
		t.Errorf("trial %+v", g)
	}
	if _, err := s.session(t.Context(), "unknown"); !errors.Is(err, ErrUnknown) {
		t.Errorf("unknown session: %v", err)
	}
}

// SQLite's documentation: with WAL only synchronous FULL (2) makes a commit
// durable across a loss of power.
func TestStoreIsDurable(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.sqlite")
	for range 2 { // new, and opened again
		s := openStore(t, path)
		var mode string
		var sync int
		if err := errors.Join(s.db.QueryRow("PRAGMA journal_mode").Scan(&mode), s.db.QueryRow("PRAGMA synchronous").Scan(&sync)); err != nil || mode != "wal" || sync != 2 {
			t.Errorf("journal %s, synchronous %d, %v", mode, sync, err)
		}
		s.Close()
	}
}

func TestTrialNumbersAreUnique(t *testing.T) {
	s := openStore(t, filepath.Join(t.TempDir(), "p.sqlite"))
	_, tr := sample(t, s)
	twice := *tr
	twice.Token = token()
	for i := range twice.Items {
		twice.Items[i].Token = token()
	}
	if err := s.addTrial(&twice); err == nil {
		t.Error("a trial number was used twice")
	}
}

func TestStoreRefusesWhatItCannotTrust(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, f func(*sql.DB)) string {
		path := filepath.Join(dir, name)
		db, err := sql.Open("sqlite", path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		f(db)
		return path
	}
	text := filepath.Join(dir, "text")
	os.WriteFile(text, []byte(strings.Repeat("not a database ", 400)), 0o600)
	other := write("other", func(db *sql.DB) { db.Exec("CREATE TABLE t (x); PRAGMA application_id=7") })
	whole := filepath.Join(dir, "whole")
	s := openStore(t, whole)
	sample(t, s)
	s.Close()
	later := write("later", func(db *sql.DB) {
		db.Exec(fmt.Sprintf("CREATE TABLE t (x); PRAGMA application_id=1363365964; PRAGMA user_version=%d", schemaVersion+1))
	})
	damaged := filepath.Join(dir, "damaged")
	b, err := os.ReadFile(whole)
	if err != nil || len(b) < 8192 {
		t.Fatal(len(b), err)
	}
	for i := 4096; i < len(b)-4096; i++ {
		b[i] ^= 0x5a
	}
	os.WriteFile(damaged, b, 0o600)
	for _, path := range []string{text, other, later, damaged} {
		before, _ := os.ReadFile(path)
		_, err := OpenStore(path)
		if !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v", filepath.Base(path), err)
		}
		if after, _ := os.ReadFile(path); string(after) != string(before) {
			t.Errorf("%s was changed", filepath.Base(path))
		}
	}
	if _, err := OpenStore(filepath.Join(dir, "no", "folder")); err == nil {
		t.Error("a file in no folder was opened")
	}
}

// A run that was stopped while it created the file leaves an empty database,
// which the next run may take.
func TestStoreTakesAnEmptyDatabase(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.sqlite")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("PRAGMA journal_mode=WAL; PRAGMA user_version=0; VACUUM"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	sample(t, openStore(t, path))
}

func TestGradesAreFinal(t *testing.T) {
	s := openStore(t, filepath.Join(t.TempDir(), "p.sqlite"))
	_, tr := sample(t, s)
	ctx := context.Background()
	if err := s.grade(tr.ID, []float64{5, 3.2, 1}, attempt{}, time.Now()); err != nil {
		t.Fatal(err)
	}
	if err := s.grade(tr.ID, []float64{5, 3.2, 1}, attempt{}, time.Now()); err != nil {
		t.Errorf("the same again: %v", err)
	}
	if err := s.grade(tr.ID, []float64{5, 3.3, 1}, attempt{}, time.Now()); !errors.Is(err, ErrFinal) {
		t.Errorf("another: %v", err)
	}
	trials, err := s.Trials(ctx, tr.Session)
	if err != nil || *trials[0].Items[1].Grade != 3.2 {
		t.Errorf("%v %v", trials, err)
	}
}

func TestClosedStore(t *testing.T) {
	s := openStore(t, filepath.Join(t.TempDir(), "p.sqlite"))
	code, err := s.JoinCode()
	again, _ := s.JoinCode()
	if err != nil || len(code) != 8 || again != code {
		t.Errorf("join codes %q and %q, %v", code, again, err)
	}
	if err := errors.Join(s.Close(), s.Close()); err != nil {
		t.Error(err)
	}
	if _, err := s.JoinCode(); !errors.Is(err, ErrClosed) {
		t.Errorf("a write after the end: %v", err)
	}
	if _, err := s.Sessions(t.Context()); err == nil {
		t.Error("a read after the end")
	}
}

func TestReadStoreDoesNotCreate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.sqlite")
	if _, err := ReadStore(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("%v", err)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("a file was made")
	}
	openStore(t, path).Close()
	s, err := ReadStore(path)
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
}

// Writes that wait together share a transaction; one that fails takes no other
// with it, and each is told its own fate.
func TestWritesOfABatchStandAlone(t *testing.T) {
	s := openStore(t, filepath.Join(t.TempDir(), "p.sqlite"))
	failure := errors.New("no")
	first, hold := make(chan bool), make(chan bool)
	go s.write(func(*sql.Tx) error { close(first); <-hold; return nil })
	<-first // the next ones gather behind it
	const n = 40
	results := make(chan error, n)
	for i := range n {
		go func() {
			results <- s.write(func(tx *sql.Tx) error {
				if _, err := tx.Exec("INSERT INTO fact VALUES (?, '')", i); err != nil {
					return err
				}
				if i%2 == 1 {
					return failure
				}
				return nil
			})
		}()
	}
	close(hold)
	failed := 0
	for range n {
		if err := <-results; errors.Is(err, failure) {
			failed++
		} else if err != nil {
			t.Error(err)
		}
	}
	var kept int
	if err := s.read.QueryRow("SELECT count(*) FROM fact WHERE name % 2 = 0").Scan(&kept); err != nil || failed != n/2 || kept != n/2 {
		t.Errorf("%d failed, %d kept, %v", failed, kept, err)
	}
}

// What an earlier version called graded had all items of a round at once.
func TestGradedOfAnEarlierVersion(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.sqlite")
	s := openStore(t, path)
	v := &Session{Token: token(), Code: "ABCD", Settings: Defaults(Graded), Begun: time.Now()}
	if err := s.addSession(v); err != nil {
		t.Fatal(err)
	}
	if _, err := s.db.Exec("PRAGMA user_version=2"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	got, err := openStore(t, path).session(t.Context(), v.Token)
	if err != nil || got.Settings.Method != Multi || got.Settings.Trials != v.Settings.Trials {
		t.Errorf("%+v %v", got, err)
	}
}
