package wave

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// Options are the choices of a Writer that the format does not make.
type Options struct {
	// Seed chooses the dither; equal seeds give equal files.
	Seed uint64
	// NoDither rounds to integers without dither. It suits samples that lie on
	// the integer grid already.
	NoDither bool
}

// file is what a Writer needs of *os.File.
type file interface {
	io.Writer
	io.WriterAt
	io.Closer
}

// Writer streams samples into a WAV file. The file has a temporary name in the
// same folder until Close. It is not safe for concurrent use.
type Writer struct {
	path, temp string
	file       file
	header     header
	raw        []byte
	quantise   *quantiser // nil for Float
	err        error      // the first failure, or os.ErrClosed
}

// Create starts a file of format f. A sample rate, width or channel count out of
// range is an error. The header is EXTENSIBLE when f says so and, by the
// published rules, for more than two channels, PCM wider than 16 bits,
// ValidBits less than Bits or a channel mask. It is RF64 when the file grows
// past 4 GiB.
func Create(path string, f Format, o Options) (*Writer, error) {
	if f.ValidBits == 0 {
		f.ValidBits = f.Bits
	}
	if err := f.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	out, err := createTemp(path)
	if err != nil {
		return nil, err
	}
	w := newWriter(out, f, o)
	w.path, w.temp = path, out.Name()
	if err := w.put(w.header.bytes()); err != nil {
		return nil, errors.Join(err, w.Abort())
	}
	return w, nil
}

func newWriter(out file, f Format, o Options) *Writer {
	w := &Writer{
		file:   out,
		header: header{format: f, limit: maxRIFFSize},
		raw:    make([]byte, blockBytes/f.frameBytes()*f.frameBytes()),
	}
	if f.Encoding == PCM {
		w.quantise = newQuantiser(f, o)
	}
	return w
}

// createTemp makes a new file beside path, with the permissions that path
// would get from os.Create.
func createTemp(path string) (*os.File, error) {
	dir, base := filepath.Split(path)
	for range 100 {
		name := fmt.Sprintf("%s.%s.%08x.part", dir, base, rand.Uint32())
		out, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if !errors.Is(err, os.ErrExist) {
			return out, err
		}
	}
	return nil, fmt.Errorf("%s: no free temporary name beside it", path)
}

// Write appends the block src, indexed [channel][frame]. A sample that is not
// finite, or too large for binary32 in such a file, is an error, as is a
// failure of the disk; after an error the Writer only can be closed or aborted,
// and leaves no file.
//
// It panics when src has not one slice a channel, all of one length.
func (w *Writer) Write(src [][]float64) error {
	frames := blockFrames(src, w.header.format.Channels)
	if w.err != nil {
		return w.err
	}
	step := len(w.raw) / w.header.format.frameBytes()
	for from := 0; from < frames; from += step {
		to := min(from+step, frames)
		raw, err := w.encode(src, from, to)
		if err != nil {
			return w.fail(err)
		}
		if err := w.put(raw); err != nil {
			return err
		}
		w.header.frames += int64(to - from)
		w.header.content += int64(len(raw))
	}
	return nil
}

func (w *Writer) encode(src [][]float64, from, to int) ([]byte, error) {
	if w.quantise == nil {
		return packFloats(w.raw, src, from, to, w.header.format.Bits)
	}
	if err := w.quantise.block(src, from, to); err != nil {
		return nil, err
	}
	return packInts(w.raw, &w.quantise.out), nil
}

func (w *Writer) put(b []byte) error {
	if _, err := w.file.Write(b); err != nil {
		return w.fail(err)
	}
	return nil
}

func (w *Writer) fail(err error) error {
	w.err = fmt.Errorf("%s: %w", w.path, err)
	return w.err
}

// Clipped returns how many samples lay beyond the integer range so far and were
// limited to it. Float files never clip.
func (w *Writer) Clipped() int64 {
	if w.quantise == nil {
		return 0
	}
	return w.quantise.clipped
}

// Close completes the header and gives the file its final name, replacing a
// file of that name. After an error, here or before, no file is left.
func (w *Writer) Close() error {
	if w.err == nil {
		w.finish()
	}
	if w.err != nil {
		return errors.Join(w.err, w.Abort())
	}
	w.err = os.ErrClosed
	return nil
}

func (w *Writer) finish() {
	if w.header.content%2 != 0 {
		if w.put([]byte{0}) != nil {
			return
		}
	}
	if _, err := w.file.WriteAt(w.header.bytes(), 0); err != nil {
		w.fail(err)
		return
	}
	if err := w.file.Close(); err != nil {
		w.fail(err)
		return
	}
	if err := os.Rename(w.temp, w.path); err != nil {
		w.fail(err)
	}
}

// Abort gives up: the temporary file is removed and the final name untouched.
// After Close or Abort it does nothing.
func (w *Writer) Abort() error {
	if w.temp == "" || errors.Is(w.err, os.ErrClosed) {
		return nil
	}
	w.file.Close() // may be closed already; what counts is the removal
	err := os.Remove(w.temp)
	w.temp = ""
	w.err = os.ErrClosed
	return err
}
