package wave

import (
	"errors"
	"fmt"
	"io"
	"os"

	"quietcross/dsp/whole"
)

// blockSamples is how many samples a Writer converts at a time.
const blockSamples = 8192

// Options are the choices of a Writer that the format does not make.
type Options struct {
	// Seed chooses the dither; equal seeds give equal files.
	Seed uint64
	// NoDither rounds to integers without dither. It suits samples that lie on
	// the integer grid already.
	NoDither bool
	// Info is text to store in the file.
	Info Info
}

// sink is what a Writer needs of *os.File.
type sink interface {
	io.Writer
	io.WriterAt
	io.Closer
}

// Writer streams samples into a WAV file, which has a temporary name in the
// same folder until Close. Its memory is one block, however long the file
// grows. It is not safe for concurrent use.
type Writer struct {
	path, temp string
	file       sink
	header     header
	buf        []byte      // bytes not yet in the file, of constant capacity
	view       [][]float64 // the part of a block in conversion
	quantise   *quantiser  // nil for Float
	err        error       // the first failure, or os.ErrClosed
	done       bool        // the file has its final name or is removed
}

// Create starts a file of format f. A field of f out of its range is an error,
// as is text in o.Info of more than 8 KiB or with a zero byte. The header is
// EXTENSIBLE when f says so and, by the published rules, for more than two
// channels, PCM wider than 16 bits, ValidBits less than Bits or a channel mask.
// It is RF64 when the file grows past 4 GiB.
func Create(path string, f Format, o Options) (*Writer, error) {
	if f.ValidBits == 0 {
		f.ValidBits = f.Bits
	}
	if found, legal, _ := f.illegal(); found != "" {
		return nil, fmt.Errorf("%s: %s; legal: %s", path, found, legal)
	}
	if err := o.Info.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	out, err := whole.Temporary(path)
	if err != nil {
		return nil, err
	}
	return newWriter(path, out.Name(), out, f, o), nil
}

func newWriter(path, temp string, out sink, f Format, o Options) *Writer {
	w := &Writer{
		path:   path,
		temp:   temp,
		file:   out,
		header: header{format: f, info: o.Info.chunk(), limit: maxRIFFSize},
		view:   make([][]float64, f.Channels),
	}
	if f.Encoding == PCM {
		w.quantise = newQuantiser(f, o)
	}
	// The first header reserves the place of the last.
	first := w.header.bytes()
	w.buf = make([]byte, 0, max(blockBytes, len(first)))
	w.buf = append(w.buf, first...)
	return w
}

// Write appends the block src, indexed [channel][frame]. A sample that is not
// finite, or too large for binary32 in such a file, is an error, as is a
// failure of the disk. The error names the channel and the frame. After it the
// Writer can only be closed or aborted, and leaves no file.
//
// It panics when src has not one slice a channel, all of one length.
func (w *Writer) Write(src [][]float64) error {
	frames := blockFrames(src, w.header.format.Channels)
	size := w.header.format.frameBytes()
	most := blockSamples / len(src)
	for from := 0; from < frames && w.err == nil; {
		room := (cap(w.buf) - len(w.buf)) / size
		if room == 0 {
			w.flush()
			continue
		}
		to := min(frames, from+min(room, most))
		for c := range src {
			w.view[c] = src[c][from:to]
		}
		w.convert((to - from) * size)
		from = to
	}
	return w.err
}

// convert appends the view, which makes n bytes, to the buffer.
func (w *Writer) convert(n int) {
	at := len(w.buf)
	w.buf = w.buf[:at+n]
	if bad := w.encode(w.buf[at:]); bad != nil {
		w.fail(fmt.Errorf("channel %d, frame %d: sample is %v; legal: finite in %s",
			bad.channel, w.header.frames+int64(bad.frame), bad.value, w.header.format))
		return
	}
	w.header.frames += int64(len(w.view[0]))
	w.header.content += int64(n)
}

func (w *Writer) encode(dst []byte) *badSample {
	switch {
	case w.quantise != nil:
		bad := w.quantise.block(w.view)
		packInts(dst, &w.quantise.out)
		return bad
	case w.header.format.Bits == 32:
		return packFloat32(dst, w.view)
	}
	return packFloat64(dst, w.view)
}

func (w *Writer) flush() {
	if _, err := w.file.Write(w.buf); err != nil {
		w.fail(err)
	}
	w.buf = w.buf[:0]
}

func (w *Writer) fail(err error) { w.err = fmt.Errorf("%s: %w", w.path, err) }

// Clipped returns how many samples, rounded with their dither, lay beyond the
// integer range so far and were limited to it; +1.0 is one step beyond. Float
// files never clip.
func (w *Writer) Clipped() int64 {
	if w.quantise == nil {
		return 0
	}
	return w.quantise.clipped
}

// Close completes the header and gives the file its final name, replacing a
// file of that name. After an error, here or before, no file is left. A second
// Close returns os.ErrClosed.
func (w *Writer) Close() error {
	if w.err == nil {
		w.finish()
	}
	if w.err != nil {
		err := w.err
		return errors.Join(err, w.Abort())
	}
	w.err, w.done = os.ErrClosed, true
	return nil
}

// finish writes what is left and renames the file.
func (w *Writer) finish() {
	if w.header.content%2 != 0 {
		w.buf = append(w.buf, 0)
	}
	if w.flush(); w.err != nil {
		return
	}
	_, err := w.file.WriteAt(w.header.bytes(), 0)
	if err == nil {
		err = whole.Keep(w.file, w.temp, w.path)
	}
	if err != nil {
		w.fail(err)
	}
}

// Abort gives up: the temporary file is removed and the final name untouched.
// After Close or Abort it does nothing.
func (w *Writer) Abort() error {
	if w.done {
		return nil
	}
	w.err, w.done = os.ErrClosed, true
	return whole.Discard(w.file, w.temp)
}
