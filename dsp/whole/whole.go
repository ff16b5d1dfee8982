// Package whole writes files whole or not at all. What is written
// has a temporary, hidden name beside its final one until it is complete; then it
// is renamed, which a file system does at once. Whoever looks at the final name
// finds what was there before or all of what is there now, and an interrupted
// program leaves nothing under it.
//
// Permissions are those that the user's umask gives to any new file, so that all
// files of a set have the same.
package whole

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// filePermissions are those before the umask takes its bits.
const filePermissions = 0o666

// Temporary makes a new, empty file beside path, open for writing and reading.
// [Keep] or [Discard] ends it.
func Temporary(path string) (*os.File, error) {
	var file *os.File
	err := unused(path, func(name string) (err error) {
		file, err = os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, filePermissions)
		return err
	})
	return file, err
}

// unused calls create with names beside path until one is free.
func unused(path string, create func(name string) error) error {
	const tries = 100
	dir := filepath.Dir(filepath.Clean(path))
	for range tries {
		name := filepath.Join(dir, fmt.Sprintf(".%016x.part", rand.Uint64()))
		if err := create(name); !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return fmt.Errorf("%s: no free temporary name beside it", path)
}

// Keep closes the file whose temporary name is given and renames it to path,
// replacing a file of that name. After an error it stays to be discarded.
func Keep(file io.Closer, temporary, path string) error {
	if err := file.Close(); err != nil {
		return err
	}
	return os.Rename(temporary, path)
}

// Discard closes the file, which may be closed already, and removes it.
func Discard(file io.Closer, temporary string) error {
	file.Close() // what counts is the removal
	return os.Remove(temporary)
}

// Write writes a file: write puts its content, and where that fails nothing is
// left and path is as it was.
func Write(path string, write func(io.Writer) error) error {
	file, err := Temporary(path)
	if err != nil {
		return err
	}
	if err = write(file); err == nil {
		err = Keep(file, file.Name(), path)
	}
	if err != nil {
		return errors.Join(err, Discard(file, file.Name()))
	}
	return nil
}
