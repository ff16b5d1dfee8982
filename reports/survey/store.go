package survey

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What a survey has found is kept in one SQLite file in its folder: its terms, the
// library's listing as it was last seen (which is how a merge knows what is missing),
// each recording that was read, and each outcome, put to the disk as soon as it is there
// (write-ahead log, synchronous FULL). Recordings are known by name and content: one that
// was changed is another, and what is known of the old one stays in the file unused.

// StoreFile is the file in a survey's folder that keeps what was found.
const StoreFile = "survey.sqlite"

// Errors of a store; test with errors.Is.
var (
	// ErrFull: the disk had no room. What was kept before is still there.
	ErrFull = errors.New("the disk is full; what was finished is kept, and the same command goes on from there")
	// ErrTerms: the store belongs to a survey with other options.
	ErrTerms = errors.New("the folder holds a survey with other options")
	// ErrStore: the file is not a survey's or its content is damaged.
	ErrStore = errors.New("not a survey's file, or a damaged one; it was left as it is")
)

const (
	applicationID = 0x51435356 // "QCSV" in the file's header
	schemaVersion = 1

	schema = `
CREATE TABLE term (value TEXT NOT NULL) STRICT;
CREATE TABLE head (value TEXT NOT NULL) STRICT;
CREATE TABLE file (name BLOB NOT NULL, path BLOB NOT NULL, size INTEGER NOT NULL, changed INTEGER NOT NULL,
	id TEXT, reason TEXT, PRIMARY KEY (name, path)) STRICT;
CREATE TABLE recording (id TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE outcome (id TEXT NOT NULL, stage TEXT NOT NULL, kind TEXT NOT NULL, value TEXT NOT NULL,
	PRIMARY KEY (id, stage, kind)) STRICT;
`
)

// A store keeps what was found.
type store struct {
	db   *sql.DB // one connection
	path string
}

// openStore opens the store of a folder. Where there is none it is made for a survey of
// the given terms; one with other terms is refused with [ErrTerms].
func openStore(dir string, terms []term) (*store, error) {
	s, err := connect(dir, "synchronous(FULL)")
	if err != nil {
		return nil, err
	}
	if err := s.begin(terms); err != nil {
		return nil, errors.Join(fmt.Errorf("survey: %s: %w", s.path, err), s.Close())
	}
	return s, nil
}

// readStore opens the store of a folder to read it.
func readStore(dir string) (*store, []term, error) {
	if _, err := os.Stat(filepath.Join(dir, StoreFile)); err != nil {
		return nil, nil, fmt.Errorf("survey: %s: holds no survey: %w", dir, err)
	}
	s, err := connect(dir, "query_only(1)")
	if err != nil {
		return nil, nil, err
	}
	terms, err := s.terms()
	if err == nil && terms == nil {
		err = errors.New("nothing was surveyed yet")
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("survey: %s: %w", s.path, err), s.Close())
	}
	return s, terms, nil
}

func connect(dir string, pragmas ...string) (*store, error) {
	path := filepath.Join(dir, StoreFile)
	query := url.Values{"_pragma": append(pragmas, "busy_timeout(5000)"), "_txlock": {"immediate"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?"+query.Encode())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return &store{db, path}, nil
}

// Close closes the file.
func (s *store) Close() error { return s.db.Close() }

// begin checks the terms of a store, or makes it.
func (s *store) begin(terms []term) error {
	known, err := s.terms()
	if err != nil {
		return err
	}
	if known != nil {
		if names := differences(known, terms); len(names) > 0 {
			return fmt.Errorf("%w (here, now): %s; name another folder", ErrTerms, strings.Join(names, ", "))
		}
		return nil
	}
	if _, err := s.db.Exec("PRAGMA journal_mode=WAL"); err != nil {
		return classify(err)
	}
	text, err := json.Marshal(terms)
	if err != nil {
		return err
	}
	return s.together(func(tx *sql.Tx) error {
		_, err := tx.Exec(schema+fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d;", applicationID, schemaVersion)+
			"INSERT INTO term VALUES (?)", string(text))
		return err
	})
}

// terms reads the terms of a store, nil where it has none yet. It verifies the file.
func (s *store) terms() ([]term, error) {
	var id, version, tables int
	var text string
	for _, read := range []struct {
		query string
		into  any
	}{
		{"PRAGMA application_id", &id}, {"PRAGMA user_version", &version}, {"SELECT count(*) FROM sqlite_schema", &tables},
	} {
		if err := s.db.QueryRow(read.query).Scan(read.into); err != nil {
			return nil, classify(err)
		}
	}
	if id == 0 && tables == 0 {
		return nil, nil
	}
	if id != applicationID || version != schemaVersion {
		return nil, fmt.Errorf("%w: application id %#x and schema version %d, want %#x and %d", ErrStore, id, version, applicationID, schemaVersion)
	}
	if err := s.db.QueryRow("SELECT value FROM term").Scan(&text); err != nil {
		return nil, classify(err)
	}
	var terms []term
	return terms, json.Unmarshal([]byte(text), &terms)
}

// together runs f in one transaction.
func (s *store) together(f func(*sql.Tx) error) error {
	tx, err := s.db.Begin()
	if err != nil {
		return classify(err)
	}
	if err := f(tx); err != nil {
		return errors.Join(classify(err), tx.Rollback())
	}
	return classify(tx.Commit())
}

// classify gives the failures that a user can meet a name of their own.
func classify(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%w (%v)", ErrFull, err)
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%w (%v)", ErrStore, err)
	}
	return err
}

// A listed file is a file of the library as the store knows it: with the identity it was
// read to have, or the reason why it was not.
type listed struct {
	File
	size, changed int64 // bytes; modification time, ns since 1970
	id, reason    string
}

// list makes the listing that of now. What is known of a file stays known where size and
// time of change have stayed; a reason is forgotten, so that the file is tried again.
func (s *store) list(files []listed) error {
	return s.together(func(tx *sql.Tx) error {
		known := map[File]listed{}
		if err := each(tx.Query("SELECT name, path, size, changed, coalesce(id, '') FROM file"))(func(rows *sql.Rows) error {
			var l listed
			var name, path []byte
			err := rows.Scan(&name, &path, &l.size, &l.changed, &l.id)
			l.Name, l.Path = string(name), string(path)
			known[l.File] = l
			return err
		}); err != nil {
			return err
		}
		if _, err := tx.Exec("DELETE FROM file"); err != nil {
			return err
		}
		for i, l := range files {
			if k := known[l.File]; k.size == l.size && k.changed == l.changed {
				files[i].id = k.id
			}
			if _, err := tx.Exec("INSERT INTO file VALUES (?, ?, ?, ?, nullif(?, ''), NULL)", []byte(l.Name), []byte(l.Path), l.size, l.changed, files[i].id); err != nil {
				return err
			}
		}
		return nil
	})
}

// each returns a function that calls use with each row of a query.
func each(rows *sql.Rows, err error) func(use func(*sql.Rows) error) error {
	return func(use func(*sql.Rows) error) error {
		if err != nil {
			return classify(err)
		}
		defer rows.Close()
		for rows.Next() {
			if err := use(rows); err != nil {
				return err
			}
		}
		return classify(rows.Err())
	}
}

// refuse keeps the reason why a file was not surveyed.
func (s *store) refuse(f File, reason string) error {
	_, err := s.db.Exec("UPDATE file SET reason = ? WHERE name = ? AND path = ?", reason, []byte(f.Name), []byte(f.Path))
	return classify(err)
}

// identify keeps the identity of a file and what was read of it.
func (s *store) identify(f File, r *Recording) error {
	text, err := json.Marshal(r)
	if err != nil {
		return err
	}
	return s.together(func(tx *sql.Tx) error {
		if _, err := tx.Exec("INSERT OR REPLACE INTO recording VALUES (?, ?)", r.ID, string(text)); err != nil {
			return err
		}
		_, err := tx.Exec("UPDATE file SET id = ? WHERE name = ? AND path = ?", r.ID, []byte(f.Name), []byte(f.Path))
		return err
	})
}

// keep keeps an outcome.
func (s *store) keep(id, stage string, o *Outcome) error {
	text, err := json.Marshal(o)
	if err != nil {
		return err
	}
	_, err = s.db.Exec("INSERT OR REPLACE INTO outcome VALUES (?, ?, ?, ?)", id, stage, string(o.Kind), string(text))
	return classify(err)
}

// head keeps what the results of the survey begin with.
func (s *store) head(h *Head) error {
	text, err := json.Marshal(h)
	if err != nil {
		return err
	}
	return s.together(func(tx *sql.Tx) error {
		_, err := tx.Exec("DELETE FROM head; INSERT INTO head VALUES (?)", string(text))
		return err
	})
}

// readHead reads it.
func (s *store) readHead() (h Head, err error) {
	var text string
	if err := s.db.QueryRow("SELECT value FROM head").Scan(&text); err != nil {
		return h, classify(err)
	}
	return h, json.Unmarshal([]byte(text), &h)
}

// files returns the listing.
func (s *store) files(ctx context.Context) (list []listed, err error) {
	err = each(s.db.QueryContext(ctx, "SELECT name, path, size, changed, coalesce(id, ''), coalesce(reason, '') FROM file ORDER BY name, path"))(func(rows *sql.Rows) error {
		var l listed
		var name, path []byte
		err := rows.Scan(&name, &path, &l.size, &l.changed, &l.id, &l.reason)
		l.Name, l.Path = string(name), string(path)
		list = append(list, l)
		return err
	})
	return list, err
}

// recording returns what was read of a recording and its outcomes, nil where it is not
// known.
func (s *store) recording(ctx context.Context, id string) (*Recording, error) {
	var text string
	err := s.db.QueryRowContext(ctx, "SELECT value FROM recording WHERE id = ?", id).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, classify(err)
	}
	r := &Recording{}
	if err := json.Unmarshal([]byte(text), r); err != nil {
		return nil, err
	}
	r.outcomes = map[string]map[Kind]Outcome{}
	return r, each(s.db.QueryContext(ctx, "SELECT stage, value FROM outcome WHERE id = ?", id))(func(rows *sql.Rows) error {
		var stage, text string
		if err := rows.Scan(&stage, &text); err != nil {
			return err
		}
		var o Outcome
		err := json.Unmarshal([]byte(text), &o)
		r.put(stage, o)
		return err
	})
}
