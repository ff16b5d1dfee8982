//go:build unix

package corpus

import (
	"errors"
	"os"
	"syscall"
)

// lock opens a file or folder and locks it without waiting, alone or together with
// others; [ErrInUse] when somebody holds it otherwise. The lock ends with the process,
// however that ends. A file system without locks lets everybody pass.
func lock(path string, alone bool) (*held, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	how := syscall.LOCK_SH
	if alone {
		how = syscall.LOCK_EX
	}
	err = syscall.Flock(int(file.Fd()), how|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, errors.Join(ErrInUse, file.Close())
	}
	return &held{file}, nil
}
