package wave

import (
	"errors"
	"io"
)

// readFullAt reads len(b) bytes at offset at. Unlike a bare ReadAt it copes with
// a source that returns less than asked without an error, and it turns the end
// of the source into io.ErrUnexpectedEOF.
func readFullAt(r io.ReaderAt, b []byte, at int64) (n int, err error) {
	for idle := 0; n < len(b); {
		m, err := r.ReadAt(b[n:], at+int64(n))
		n += m
		switch {
		case n == len(b):
		case errors.Is(err, io.EOF):
			return n, io.ErrUnexpectedEOF
		case err != nil:
			return n, err
		case m > 0:
			idle = 0
		default:
			if idle++; idle == 100 {
				return n, io.ErrNoProgress
			}
		}
	}
	return n, nil
}
