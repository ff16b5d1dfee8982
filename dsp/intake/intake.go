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
	head, err := beginning(path)
	if err != nil {
		return nil, err
	}
	if kind, ok := refused(head); ok {
		return nil, fmt.Errorf("%s: %s; legal are WAV and FLAC files", path, kind)
	}
	if isFLAC(head) {
		return openFLAC(path)
	}
	reader, err := wave.Open(path)
	if err != nil {
		return nil, err
	}
	return reader, nil
}

// beginning reads the first bytes of a file, fewer if it is shorter.
func beginning(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	head := make([]byte, 16)
	n, err := io.ReadFull(file, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return nil, err
	}
	return head[:n], nil
}
