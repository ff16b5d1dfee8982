package wave

import (
	"fmt"
	"strings"
)

// Error is a fault in a file: where it is, what was found there and what would
// have been legal.
type Error struct {
	Path   string // the file's name as given to Open or NewReader
	Offset int64  // byte offset of the faulty field
	Found  string // what the field holds
	Legal  string // what it may hold; empty when the fault is not one of content
	Err    error  // the cause, such as io.ErrUnexpectedEOF or a disk error; may be nil
}

// Error returns "path: byte offset: found; legal: …: cause".
func (e *Error) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: byte %d: %s", e.Path, e.Offset, e.Found)
	if e.Legal != "" {
		fmt.Fprintf(&b, "; legal: %s", e.Legal)
	}
	if e.Err != nil {
		fmt.Fprintf(&b, ": %v", e.Err)
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }
