package server

import (
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Errors of a store; test with errors.Is.
var (
	// ErrFull: the disk had no room and nothing was changed.
	ErrFull = errors.New("the disk is full; nothing was saved")
	// ErrDamaged: the file is not a panel file or its content is damaged.
	ErrDamaged = errors.New("not a panel file, or a damaged one; it was left as it is")
	// ErrClosed: the store was closed.
	ErrClosed = errors.New("the panel file is closed")
	// ErrUnknown: no such session, trial or clip.
	ErrUnknown = errors.New("unknown")
	// ErrFinal: the trial has another answer already.
	ErrFinal = errors.New("the trial is answered; answers are final")
)

const (
	applicationID = 0x5143504C // "QCPL" in the file's header
	schemaVersion = 1
)

// schema is that of version 1. Times are RFC 3339 in UTC.
const schema = `
CREATE TABLE session (
	id INTEGER PRIMARY KEY, token TEXT NOT NULL UNIQUE, code TEXT NOT NULL,
	name TEXT NOT NULL, material TEXT NOT NULL, settings TEXT NOT NULL,
	lo REAL NOT NULL, hi REAL NOT NULL, seed INTEGER NOT NULL,
	title TEXT NOT NULL, set_hash TEXT NOT NULL, version TEXT NOT NULL, set_seed TEXT NOT NULL,
	device TEXT NOT NULL DEFAULT '', spl REAL, browser TEXT NOT NULL DEFAULT '',
	clip_rate INTEGER NOT NULL, played_rate INTEGER NOT NULL DEFAULT 0, device_rate INTEGER NOT NULL DEFAULT 0,
	begun TEXT NOT NULL, level_set TEXT, finished TEXT
) STRICT;
CREATE TABLE trial (
	id INTEGER PRIMARY KEY, session INTEGER NOT NULL REFERENCES session(id), number INTEGER NOT NULL,
	token TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, target REAL NOT NULL,
	quiescent REAL NOT NULL, bias REAL NOT NULL, residual REAL NOT NULL, gain REAL NOT NULL,
	odd INTEGER NOT NULL, choice INTEGER NOT NULL DEFAULT 0, started TEXT NOT NULL, answered TEXT,
	UNIQUE (session, number)
) STRICT;
CREATE TABLE item (
	trial INTEGER NOT NULL REFERENCES trial(id), position INTEGER NOT NULL, token TEXT NOT NULL UNIQUE,
	seed INTEGER NOT NULL, role TEXT NOT NULL,
	quiescent REAL NOT NULL, bias REAL NOT NULL, residual REAL NOT NULL, gain REAL NOT NULL,
	grade REAL, PRIMARY KEY (trial, position)
) STRICT;
CREATE TABLE rung (
	material TEXT NOT NULL, set_hash TEXT NOT NULL, quiescent REAL NOT NULL, bias REAL NOT NULL,
	residual REAL NOT NULL, gain REAL NOT NULL, PRIMARY KEY (material, set_hash, quiescent)
) STRICT;
CREATE TABLE fact (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
`

// Store is a panel file: every session, trial and answer. It may be used from
// several goroutines. A method that returns without an error has its change on
// the disk (write-ahead log, synchronous FULL).
type Store struct {
	db   *sql.DB // one connection, the only one that writes
	read *sql.DB // readers, which never wait for a write to reach the disk
	path string

	release   func() error // gives the file free for another server
	temporary string       // folder of a copy, which goes with Close

	jobs   chan job
	quit   chan struct{} // closed to end the writing
	ended  chan struct{} // closed when the last job is done
	closed sync.Once
}

// OpenStore opens the panel file at path and creates it, readable by its owner alone,
// when there is none. A file that is something else, is damaged, or was written by a
// later version is refused with [ErrDamaged] and left as it is; one that another server
// has, with [ErrServed].
func OpenStore(path string) (*Store, error) {
	info, err := os.Stat(path)
	fresh := errors.Is(err, os.ErrNotExist) || err == nil && info.Size() == 0
	if err != nil && !fresh {
		return nil, fmt.Errorf("panel: %w", err)
	}
	s := &Store{path: path, jobs: make(chan job), quit: make(chan struct{}), ended: make(chan struct{})}
	if err := s.create(); err != nil {
		if s.release != nil {
			s.release()
		}
		return nil, fmt.Errorf("panel: %s: %w", path, err)
	}
	if s.db, err = connect(path, 1, "synchronous(FULL)", "foreign_keys(1)"); err == nil {
		s.read, err = connect(path, 4, "query_only(1)")
	}
	go s.commitJobs()
	if err == nil {
		err = s.begin(fresh)
	}
	if err != nil {
		s.Close()
		return nil, fmt.Errorf("panel: %s: %w", path, err)
	}
	return s, nil
}

// connect makes a pool of up to most connections; it does not touch the file.
func connect(path string, most int, pragmas ...string) (*sql.DB, error) {
	query := url.Values{"_pragma": append(pragmas, "busy_timeout(5000)"), "_txlock": {"immediate"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?"+query.Encode())
	if err == nil {
		db.SetMaxOpenConns(most)
	}
	return db, err
}

// begin checks or creates the schema.
func (s *Store) begin(fresh bool) error {
	if !fresh {
		empty, err := s.verify()
		if err != nil {
			return err
		}
		fresh = empty
	}
	if _, err := s.db.Exec("PRAGMA journal_mode=WAL"); err != nil {
		return classify(err)
	}
	if !fresh {
		return nil
	}
	return s.write(func(tx *sql.Tx) error {
		_, err := tx.Exec(schema + fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d;", applicationID, schemaVersion))
		return err
	})
}

// verify reads the header and checks the whole file before anything is written.
// It reports empty for a database without content, which a run that was stopped
// while it created the file leaves behind.
func (s *Store) verify() (empty bool, err error) {
	var id, version, tables int
	var state string
	for query, dst := range map[string]any{
		"PRAGMA application_id": &id, "PRAGMA user_version": &version,
		"PRAGMA quick_check(1)": &state, "SELECT count(*) FROM sqlite_schema": &tables,
	} {
		if err := s.db.QueryRow(query).Scan(dst); err != nil {
			return false, classify(err)
		}
	}
	switch {
	case state != "ok":
		return false, fmt.Errorf("%w: %s", ErrDamaged, state)
	case id == 0 && tables == 0:
		return true, nil
	case id != applicationID:
		return false, fmt.Errorf("%w: application id %#x, want %#x", ErrDamaged, id, applicationID)
	case version != schemaVersion:
		return false, fmt.Errorf("%w: schema version %d, this program reads %d", ErrDamaged, version, schemaVersion)
	}
	return false, nil
}

// Close ends what is being written and closes the file. Every later call on the
// store returns an error, except Close.
func (s *Store) Close() error {
	var errs []error
	s.closed.Do(func() {
		close(s.quit)
		<-s.ended
		for _, db := range []*sql.DB{s.read, s.db} {
			if db != nil {
				errs = append(errs, db.Close())
			}
		}
		errs = append(errs, s.release())
		if s.temporary != "" {
			errs = append(errs, os.RemoveAll(s.temporary))
		}
	})
	return errors.Join(errs...)
}

// JoinCode returns a join code that stays the same for this file, so that a
// class need not join again after a restart. It is made when first asked for.
func (s *Store) JoinCode() (string, error) { return s.fact("join code", Code(8)) }

// Path returns the path the store was opened with.
func (s *Store) Path() string { return s.path }

// classify gives the failures that a listener can meet a name of their own.
func classify(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return ErrUnknown
	}
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%w (%v)", ErrFull, err)
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%w (%v)", ErrDamaged, err)
	}
	return err
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// unstamp reads a time; NULL is the zero time.
func unstamp(s sql.NullString) (time.Time, error) {
	if !s.Valid {
		return time.Time{}, nil
	}
	return time.Parse(time.RFC3339Nano, s.String)
}

// fact returns the stored value of a name, storing value first when there is
// none.
func (s *Store) fact(name, value string) (string, error) {
	err := s.write(func(tx *sql.Tx) error {
		if _, err := tx.Exec("INSERT OR IGNORE INTO fact VALUES (?, ?)", name, value); err != nil {
			return err
		}
		return tx.QueryRow("SELECT value FROM fact WHERE name = ?", name).Scan(&value)
	})
	return value, err
}
