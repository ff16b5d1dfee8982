package server

import (
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"

	"quietcross/corpus"
)

// A panel file belongs to one server at a time: a lock file beside it, which ends with
// the process, says whose it is. Names and answers are nobody else's business, so the
// file is readable by its owner alone. Results are worked out from a copy of one moment,
// so that a server may run meanwhile, the file may lie on read-only media, and no result
// ever changes it.

// ErrServed: another server has the file.
var ErrServed = errors.New("another panel serves this file")

// create makes the file with its mode, so that what SQLite puts beside it has the same,
// and takes it for this process.
func (s *Store) create() error {
	release, err := corpus.Claim(s.path+".lock", fmt.Sprintf("process %d\n", os.Getpid()))
	if errors.Is(err, corpus.ErrInUse) {
		return fmt.Errorf("%w (%v): stop that one first, or name another file with --database", ErrServed, err)
	}
	if err != nil {
		return err
	}
	s.release = release
	file, err := os.OpenFile(s.path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	if info, err := file.Stat(); err == nil && info.Mode().Perm()&0o077 != 0 {
		file.Chmod(0o600) // of an earlier version; where it cannot be, it stays
	}
	return file.Close()
}

// ReadStore opens a copy of the panel file as it is at this moment; the copy goes with
// Close. A file that does not exist is an error.
func ReadStore(path string) (*Store, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("panel: %w", err)
	}
	dir, err := os.MkdirTemp("", "quietcross-panel-*")
	if err != nil {
		return nil, fmt.Errorf("panel: %w", err)
	}
	twin := filepath.Join(dir, "panel.sqlite")
	if err := copyStore(path, twin); err != nil {
		return nil, errors.Join(fmt.Errorf("panel: %s: %w", path, err), os.RemoveAll(dir))
	}
	s, err := OpenStore(twin)
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	s.temporary = dir
	return s, nil
}

// copyStore copies a panel file with what its log holds.
func copyStore(path, twin string) error {
	query := url.Values{"mode": {"ro"}, "_pragma": {"busy_timeout(5000)"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?"+query.Encode())
	if err != nil {
		return err
	}
	_, err = db.Exec("VACUUM INTO ?", twin)
	err = errors.Join(classify(err), db.Close())
	if err == nil || errors.Is(err, ErrDamaged) || errors.Is(err, ErrFull) {
		return err
	}
	// Beside a file on read-only media SQLite cannot keep its index of the log; nobody
	// can write there either, so a plain copy is whole.
	os.Remove(twin)
	if err := copyFile(path, twin); err != nil {
		return err
	}
	if _, err := os.Stat(path + "-wal"); err != nil {
		return nil
	}
	return copyFile(path+"-wal", twin+"-wal")
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}
