//go:build !linux

package corpus

import "errors"

// exchange needs a system call that this system lacks.
func exchange(string, string) error { return errors.ErrUnsupported }
