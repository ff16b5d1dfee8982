package server

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
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
	schemaVersion = 3
)

// steps lead from no schema to that of each version; a file of an earlier version is
// taken on when it is opened. Times are RFC 3339 in UTC.
var steps = [schemaVersion]string{schema1, schema2, schema3}

const schema1 = `
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

// schema2 adds what a session was heard at and how, a listener's place in a plan, how
// long each interval was heard, and the playback level at which a rung's residual meets
// the threshold in quiet. A stimulus is known by the hash of what made it; of an earlier
// version's sessions that is the set's.
const schema2 = `
ALTER TABLE session ADD COLUMN stimulus TEXT NOT NULL DEFAULT '';
UPDATE session SET stimulus = set_hash;
ALTER TABLE session ADD COLUMN listener INTEGER NOT NULL DEFAULT 0;
ALTER TABLE session ADD COLUMN part INTEGER NOT NULL DEFAULT 0;
ALTER TABLE session ADD COLUMN room TEXT NOT NULL DEFAULT '';
ALTER TABLE session ADD COLUMN matched TEXT NOT NULL DEFAULT '';
ALTER TABLE session ADD COLUMN noise_heard REAL NOT NULL DEFAULT 0;
ALTER TABLE session ADD COLUMN playback REAL;
ALTER TABLE session ADD COLUMN gain REAL NOT NULL DEFAULT 0;
ALTER TABLE session ADD COLUMN dither REAL;
ALTER TABLE session ADD COLUMN consented TEXT;
ALTER TABLE trial ADD COLUMN heard TEXT NOT NULL DEFAULT '[]';
ALTER TABLE trial ADD COLUMN switches INTEGER NOT NULL DEFAULT 0;
ALTER TABLE rung ADD COLUMN quiet REAL;
`

// schema3 calls sessions of grades by what they were: all items of a round at once.
const schema3 = `
UPDATE session SET settings = replace(settings, '"Method":"graded"', '"Method":"multi-stimulus"');
`

// Store is a panel file: every session, trial and answer. It may be used from
// several goroutines. A method that returns without an error has its change in the
// write-ahead log, which survives the process, and unless it says otherwise on the disk.
type Store struct {
	db   *sql.DB // one connection, the only one that writes
	read *sql.DB // readers, which never wait for a write to reach the disk
	path string

	mover  *sql.DB       // moves the log into the file
	moving chan struct{} // held while it does

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
	s := &Store{path: path, moving: make(chan struct{}, 1), jobs: make(chan job), quit: make(chan struct{}), ended: make(chan struct{})}
	if err := s.create(); err != nil {
		if s.release != nil {
			s.release()
		}
		return nil, fmt.Errorf("panel: %s: %w", path, err)
	}
	if s.db, err = connect(path, 1, "synchronous(FULL)", "foreign_keys(1)", "wal_autocheckpoint(0)"); err == nil {
		s.read, err = connect(path, 4, "query_only(1)")
	}
	if err == nil {
		s.mover, err = connect(path, 1)
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
	version := 0
	if !fresh {
		var err error
		if version, err = s.verify(); err != nil {
			return err
		}
	}
	if _, err := s.db.Exec("PRAGMA journal_mode=WAL"); err != nil {
		return classify(err)
	}
	if version == schemaVersion {
		return nil
	}
	return s.write(func(tx *sql.Tx) error {
		_, err := tx.Exec(strings.Join(steps[version:], "") + fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d;", applicationID, schemaVersion))
		return err
	})
}

// verify reads the header, checks the whole file before anything is written and returns
// the version of its schema: 0 for a database without content, which a run that was
// stopped while it created the file leaves behind.
func (s *Store) verify() (version int, err error) {
	var id, tables int
	var state string
	for query, dst := range map[string]any{
		"PRAGMA application_id": &id, "PRAGMA user_version": &version,
		"PRAGMA quick_check(1)": &state, "SELECT count(*) FROM sqlite_schema": &tables,
	} {
		if err := s.db.QueryRow(query).Scan(dst); err != nil {
			return 0, classify(err)
		}
	}
	switch {
	case state != "ok":
		return 0, fmt.Errorf("%w: %s", ErrDamaged, state)
	case id == 0 && tables == 0:
		return 0, nil
	case id != applicationID:
		return 0, fmt.Errorf("%w: application id %#x, want %#x", ErrDamaged, id, applicationID)
	case version < 1 || version > schemaVersion:
		return 0, fmt.Errorf("%w: schema version %d, this program reads 1 to %d", ErrDamaged, version, schemaVersion)
	}
	return version, nil
}

// Close ends what is being written and closes the file. Every later call on the
// store returns an error, except Close.
func (s *Store) Close() error {
	var errs []error
	s.closed.Do(func() {
		close(s.quit)
		<-s.ended
		s.moving <- struct{}{} // what is being moved comes to its end
		for _, db := range []*sql.DB{s.mover, s.read, s.db} {
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

// stampOr is NULL for the zero time.
func stampOr(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return stamp(t)
}

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

// known returns the stored value of a name, "" when there is none.
func (s *Store) known(ctx context.Context, name string) (value string, err error) {
	err = classify(s.read.QueryRowContext(ctx, "SELECT value FROM fact WHERE name = ?", name).Scan(&value))
	if errors.Is(err, ErrUnknown) {
		err = nil
	}
	return value, err
}

// The facts of a plan.
const (
	planHashFact = "plan hash"
	planTextFact = "plan text"
	planTimeFact = "plan registered"
)

// ErrPlan: the file belongs to another plan.
var ErrPlan = errors.New("the answers belong to another plan")

// Register fixes the plan of a file before its first session. A file with sessions that
// have no plan, or with another plan, is refused with [ErrPlan]; without a plan (nil) so
// is one that has one.
func (s *Store) Register(ctx context.Context, p *Plan, at time.Time) error {
	hash, err := s.known(ctx, planHashFact)
	if err != nil {
		return err
	}
	switch {
	case p == nil && hash == "", p != nil && hash == p.Hash:
		return nil
	case p == nil:
		return fmt.Errorf("%w (hash %.12s): open it with --plan, or name another file with --database", ErrPlan, hash)
	case hash != "":
		return fmt.Errorf("%w (hash %.12s, this one has %.12s): open it with that, or name another file with --database", ErrPlan, hash, p.Hash)
	}
	sessions, err := s.Sessions(ctx)
	if err != nil {
		return err
	}
	if len(sessions) > 0 {
		return fmt.Errorf("%w: %d sessions were begun without one; name another file with --database", ErrPlan, len(sessions))
	}
	return s.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("INSERT INTO fact VALUES (?, ?), (?, ?), (?, ?)", planHashFact, p.Hash, planTextFact, p.Text, planTimeFact, stamp(at))
		return err
	})
}

// Registration returns the plan that a file was begun with, nil for none.
func (s *Store) Registration(ctx context.Context) (*Registration, error) {
	var r Registration
	for name, dst := range map[string]*string{planHashFact: &r.Hash, planTextFact: &r.Text, planTimeFact: &r.Registered} {
		var err error
		if *dst, err = s.known(ctx, name); err != nil {
			return nil, err
		}
	}
	if r.Hash == "" {
		return nil, nil
	}
	return &r, nil
}
