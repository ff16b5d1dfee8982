// Package intake opens sound files of every kind that the project accepts: WAV
// (with RF64 and BW64) and FLAC. Lossy formats are told by their first bytes and
// refused: what they leave out is in the place where small distortion would be
// looked for.
package intake

import (
	"errors"
	"fmt"
	"io"
	"os"

	"quietcross/dsp/wave"
)

// Stream is an open file, read from the first frame on. [*wave.Reader] is one.
type Stream interface {
	// Format describes the samples; of a FLAC file, those of the WAV file that
	// would hold the same.
	Format() wave.Format
	// Frames returns the number of frames in the file.
	Frames() int64
	// Warnings say what is odd about the file.
	Warnings() []string
	// Read fills planar dst, one slice a channel and all of one length, full
	// scale 1.0, and returns the number of frames read; io.EOF follows the last.
	Read(dst [][]float64) (int, error)
	io.Closer
}

// Open opens the file at path. Errors name the file and what was found.
func Open(path string) (Stream, error) {
	info, err := os.Stat(path) // before opening, for a pipe would block there
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		reader, err := wave.Open(path) // refuses it
		return reader, err
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	stream, err := New(file, info.Size(), path)
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return &opened{stream, file}, nil
}

// opened is a stream with the file that it reads.
type opened struct {
	Stream
	file io.Closer
}

func (o *opened) Close() error { return errors.Join(o.Stream.Close(), o.file.Close()) }

// New reads the sound file of size bytes in r. The name stands in errors.
func New(r io.ReaderAt, size int64, name string) (Stream, error) {
	head := make([]byte, min(size, 16))
	if _, err := r.ReadAt(head, 0); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if kind, ok := refused(head); ok {
		return nil, fmt.Errorf("%s: %s; legal are WAV and FLAC files", name, kind)
	}
	if isFLAC(head) {
		return newFLAC(r, size, name)
	}
	return wave.NewReader(r, size, name)
}
