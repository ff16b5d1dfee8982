package corpus

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"quietcross/dsp/whole"
)

// ErrExists is why [CreateFolder] refuses a folder that it could replace.
var ErrExists = errors.New("exists already")

// CreateFolder makes the folder of a result at path. It calls fill with a
// temporary folder beside path and renames that to path when fill has
// succeeded; otherwise nothing is left. An existing path is refused unless
// replace is set, and even then only a folder that holds the file called mark,
// by which its kind is known, or an empty folder is replaced.
func CreateFolder(path, mark string, replace bool, fill func(dir string) error) (err error) {
	if err := checkTarget(path, mark, replace); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(filepath.Clean(path)), 0o777); err != nil {
		return err
	}
	dir, err := whole.Folder(path)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	if err := fill(dir); err != nil {
		return err
	}
	return swap(dir, path)
}

// checkTarget refuses a path that must not be written over.
func checkTarget(path, mark string, replace bool) error {
	entries, err := os.ReadDir(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: exists and is not a folder that can be read: %w", path, err)
	}
	if len(entries) == 0 {
		return nil
	}
	if !replace {
		return fmt.Errorf("%s: %w", path, ErrExists)
	}
	if _, err := os.Stat(filepath.Join(path, mark)); err != nil {
		return fmt.Errorf("%s: holds no %s, so it is not a result of this kind and is not replaced", path, mark)
	}
	return nil
}

// swap renames dir to path; an old set at path is moved aside first and
// removed last, so that a failure never loses both.
func swap(dir, path string) error {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return os.Rename(dir, path)
	}
	old := dir + ".old"
	if err := os.Rename(path, old); err != nil {
		return err
	}
	if err := os.Rename(dir, path); err != nil {
		return errors.Join(err, os.Rename(old, path))
	}
	return os.RemoveAll(old)
}
