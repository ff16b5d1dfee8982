package corpus

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// held is a locked file or folder.
type held struct{ file *os.File }

// Close ends the lock; of nil it does nothing.
func (h *held) Close() error {
	if h == nil {
		return nil
	}
	return h.file.Close()
}

// Hold keeps the set in folder dir from being replaced until release is called or the
// process ends, however it ends. Several may hold one set. It is refused with
// [ErrInUse] while the set is being replaced. Read-only media can be held.
func Hold(dir string) (release func() error, err error) {
	h, err := lock(filepath.Join(dir, ManifestFile), false)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	return h.Close, nil
}

// Claim takes the lock file at path, made when there is none, for this process alone
// until release is called or the process ends, however it ends. It is refused with
// [ErrInUse] and the text of the one who has it.
func Claim(path, text string) (release func() error, err error) {
	for {
		file, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, 0o600)
		if err != nil {
			return nil, err
		}
		h, err := lock(path, true)
		if err != nil {
			by, _ := os.ReadFile(path)
			return nil, errors.Join(fmt.Errorf("%w: %s", err, strings.TrimSpace(string(by))), file.Close())
		}
		if !sameFile(path, h.file) { // the last owner removed it in between
			h.Close()
			file.Close()
			continue
		}
		_, err = file.WriteString(text)
		if err = errors.Join(err, file.Truncate(int64(len(text))), file.Close()); err != nil {
			return nil, errors.Join(err, h.Close())
		}
		return func() error { return errors.Join(os.Remove(path), h.Close()) }, nil
	}
}

func sameFile(path string, file *os.File) bool {
	there, err1 := os.Stat(path)
	here, err2 := file.Stat()
	return err1 == nil && err2 == nil && os.SameFile(there, here)
}
