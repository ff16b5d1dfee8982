package corpus

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
)

// A result is written into a hidden folder beside its place and moved there whole.
// With it goes a list of what was written (inventory.go). A result may be replaced
// only when that list accounts for all that its folder holds: a file that somebody
// else put there or changed, a listener's answers among them, is refused, named and
// left alone. The old result is removed file by file from its list, so that even a
// file that comes between the check and the removal stays. While a result is replaced
// its mark is locked, and who uses it meanwhile can lock it too ([Hold]).

// ErrExists is why [Folder.Create] refuses a folder that it could replace.
var ErrExists = errors.New("exists already")

// ErrForeign is why [Folder.Create] does not replace a folder that holds more than
// the result that was written.
var ErrForeign = errors.New("holds files that are not of the result and would be lost")

// ErrInUse is why [Folder.Create] does not replace a result that is in use.
var ErrInUse = errors.New("is in use by an open panel or by another run; end that first")

// A Folder is the place of a result.
type Folder struct {
	// Path is where the result shall be.
	Path string
	// Mark is the file by which a result of this kind is known, "manifest.json".
	Mark string
	// Replace allows a result of this kind at Path to be replaced.
	Replace bool
	// Note, which may be nil, is told in a sentence what else was done: the remains of
	// a run that was killed were cleared away.
	Note func(sentence string)
}

// Create makes the folder. It calls fill with a temporary folder beside the place and
// moves that there when fill has succeeded; otherwise nothing is left. An existing
// folder is refused with [ErrExists] unless Replace is set or it is empty, and even
// then with an error when it holds no Mark, with [ErrForeign] when it holds anything
// that was not written with it, and with [ErrInUse] when somebody holds it.
func (f Folder) Create(fill func(dir string) error) (err error) {
	f.Path = resolved(f.Path)
	if err := f.clearStale(); err != nil {
		return err
	}
	held, err := f.check()
	if err != nil {
		return err
	}
	defer held.Close()
	parent, base := filepath.Split(f.Path)
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return err
	}
	// The name tells whose remains it is, should the run be killed.
	dir := filepath.Join(parent, fmt.Sprintf(".%s%s%016x", base, partial, rand.Uint64()))
	if err := os.Mkdir(dir, 0o777); err != nil {
		return err
	}
	own, err := lock(dir, true) // tells other runs that it is no remains
	if err != nil {
		return errors.Join(err, os.Remove(dir))
	}
	defer own.Close()
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	if err := fill(dir); err != nil {
		return err
	}
	if err := writeInventory(dir); err != nil {
		return err
	}
	return f.swap(dir)
}

// partial stands in the name of a folder that is being filled, and old behind that of
// a result that was moved aside.
const (
	partial = ".partial-"
	old     = ".old"
)

// resolved is the absolute path with the links of what exists followed, so that a
// link to a result is not taken for the result.
func resolved(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if absolute, err := filepath.Abs(path); err == nil {
		path = absolute
	}
	return filepath.Clean(path)
}

// check refuses a path that must not be written over, and locks the result that is
// going to be replaced.
func (f Folder) check() (held *held, err error) {
	entries, err := os.ReadDir(f.Path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, nil
	case err != nil:
		return nil, fmt.Errorf("%s: exists and is not a folder that can be read: %w", f.Path, err)
	case len(entries) == 0:
		return nil, nil
	case !f.Replace:
		return nil, fmt.Errorf("%s: %w", f.Path, ErrExists)
	}
	mark := filepath.Join(f.Path, f.Mark)
	if _, err := os.Stat(mark); err != nil {
		return nil, fmt.Errorf("%s: holds no %s, so it is not a result of this kind and is not replaced", f.Path, f.Mark)
	}
	held, err = lock(mark, true)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Path, err)
	}
	if err := checkForeign(f.Path); err != nil {
		return nil, errors.Join(err, held.Close())
	}
	return held, nil
}

// swap moves dir to its place. An old result there changes places with it, or is moved
// aside first where the system cannot exchange two folders, and is removed last.
func (f Folder) swap(dir string) error {
	err := os.Remove(f.Path) // an empty folder goes; a full one stays
	if err == nil || errors.Is(err, os.ErrNotExist) {
		return os.Rename(dir, f.Path)
	}
	if err := checkForeign(f.Path); err != nil { // filling took its time
		return err
	}
	if err := exchange(dir, f.Path); err == nil {
		return f.discard(dir)
	}
	aside := dir + old
	if err := os.Rename(f.Path, aside); err != nil {
		return err
	}
	if err := os.Rename(dir, f.Path); err != nil {
		return errors.Join(err, os.Rename(aside, f.Path))
	}
	return f.discard(aside)
}

// discard removes an old result by its list. What else has come into its folder stays,
// under a name that can be seen.
func (f Folder) discard(dir string) error {
	left, err := removeListed(dir)
	if err != nil || !left {
		return err
	}
	kept := dir
	for n := 1; ; n++ {
		kept = fmt.Sprintf("%s.kept-%d", f.Path, n)
		if _, err := os.Lstat(kept); errors.Is(err, os.ErrNotExist) {
			break
		}
	}
	if err := os.Rename(dir, kept); err != nil {
		return err
	}
	f.note(fmt.Sprintf("%s: holds what had come into the folder that was replaced", kept))
	return nil
}

// clearStale clears away what runs that were killed have left beside the place: folders
// half filled, and an old result that was moved aside, which goes back to its place when
// that is empty.
func (f Folder) clearStale() error {
	parent, base := filepath.Split(f.Path)
	entries, err := os.ReadDir(parent)
	if err != nil {
		return nil // no parent yet, or none that can be read: nothing to clear
	}
	for _, e := range entries {
		if !e.IsDir() || !strings.HasPrefix(e.Name(), "."+base+partial) {
			continue
		}
		if err := f.clear(filepath.Join(parent, e.Name())); err != nil {
			return err
		}
	}
	return nil
}

// clear clears one folder away unless another run is filling it.
func (f Folder) clear(dir string) error {
	own, err := lock(dir, true)
	if errors.Is(err, ErrInUse) {
		return nil
	}
	if err != nil {
		return err
	}
	defer own.Close()
	if _, err := os.Lstat(f.Path); strings.HasSuffix(dir, old) && errors.Is(err, os.ErrNotExist) {
		f.note(f.Path + ": restored; a run was ended while it replaced it")
		return os.Rename(dir, f.Path)
	}
	f.note(dir + ": cleared away; a run was ended before it was done")
	if _, err := os.Stat(filepath.Join(dir, inventoryFile)); err == nil {
		return f.discard(dir) // a whole result: somebody may have used it
	}
	return os.RemoveAll(dir)
}

func (f Folder) note(sentence string) {
	if f.Note != nil {
		f.Note(sentence)
	}
}

// Inside reports whether path lies in the folder dir or is it, links followed.
func Inside(dir, path string) bool {
	rel, err := filepath.Rel(resolved(dir), resolved(path))
	return err == nil && filepath.IsLocal(rel)
}
