package wave

import (
	"errors"
	"fmt"
	"io"
	"os"

	"quietcross/dsp/planar"
)

// blockBytes is the size of the one buffer through which a Reader or a Writer
// streams; whole frames of it are used.
const blockBytes = 64 << 10

// Reader streams the samples of one WAV file. Its memory is one block of
// 64 KiB, however long the file is. It is not safe for concurrent use.
type Reader struct {
	src      io.ReaderAt
	closer   io.Closer
	name     string
	format   Format
	info     Info
	data     extent
	frames   int64
	next     int64 // frame that Read delivers next
	raw      []byte
	held     int64 // first frame in raw
	holds    int   // frames in raw
	decode   decoder
	warnings []string
	unusable unusable
}

// Open opens a WAV file. It must be a regular file, for its length bounds
// everything that the header claims. Errors about its content are of type
// [*Error].
func Open(path string) (*Reader, error) {
	info, err := os.Stat(path) // before opening, for a pipe would block there
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &Error{Path: path, Found: fmt.Sprintf("file of mode %v", info.Mode()), Legal: "a regular file, whose length is known"}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	r, err := NewReader(f, info.Size(), path)
	if err != nil {
		f.Close()
		return nil, err
	}
	r.closer = f
	return r, nil
}

// NewReader reads a WAV file of size bytes from r. The name stands in errors.
func NewReader(r io.ReaderAt, size int64, name string) (*Reader, error) {
	g, err := scan(r, size, name)
	if err != nil {
		return nil, err
	}
	format, err := g.format()
	if err != nil {
		return nil, err
	}
	info, err := g.readInfo()
	if err != nil {
		return nil, err
	}
	frame := int64(format.frameBytes())
	if odd := g.data.size % frame; odd != 0 {
		g.warn(g.data.end()-odd, "the audio ends with %d bytes of a frame of %d; they are ignored", odd, frame)
	}
	return &Reader{
		src:      r,
		name:     name,
		format:   format,
		info:     info,
		data:     g.data,
		frames:   g.data.size / frame,
		raw:      make([]byte, blockBytes/frame*frame),
		decode:   decoderOf(format),
		warnings: g.warnings,
	}, nil
}

// Format returns what the header says, with ValidBits always filled in.
func (r *Reader) Format() Format { return r.format }

// Frames returns the number of whole frames that are in the file.
func (r *Reader) Frames() int64 { return r.frames }

// Info returns the text that the file carries about itself, made fit to print:
// valid UTF-8, no control characters, at most 8 KiB an entry.
func (r *Reader) Info() Info { return r.info }

// Warnings returns what was tolerated so far: in the header, and in the samples
// that Read has passed. Samples that are read again after SeekFrame are
// counted again.
func (r *Reader) Warnings() []string {
	return append(r.warnings[:len(r.warnings):len(r.warnings)], r.unusable.warning()...)
}

// Read fills dst, indexed [channel][frame], with the next frames and returns
// how many it delivered: len(dst[0]), fewer only at the end of the file or
// with an error, and 0 with io.EOF after it. Full scale is 1.0: a PCM sample of
// b bits is divided by 2^(b-1). Float samples are passed as they are, except
// that values which are no audio (NaN, infinity, magnitudes above 1e12)
// become 0 and a warning.
//
// It panics when dst has not one slice a channel, all of one length.
func (r *Reader) Read(dst [][]float64) (n int, err error) {
	want := blockFrames(dst, r.format.Channels)
	if want > 0 && r.next == r.frames {
		return 0, io.EOF
	}
	for n < want && r.next < r.frames {
		if r.next < r.held || r.next >= r.held+int64(r.holds) {
			if err := r.fill(); err != nil {
				return n, err
			}
		}
		n += r.take(dst, n, want-n)
	}
	return n, nil
}

// take decodes at most frames of what is held into dst from index at.
func (r *Reader) take(dst [][]float64, at, frames int) int {
	size := r.format.frameBytes()
	skip := int(r.next - r.held)
	frames = min(frames, r.holds-skip)
	first, bad := r.decode(dst, at, frames, r.raw[skip*size:(skip+frames)*size])
	r.unusable.add(r.next+int64(first), bad)
	r.next += int64(frames)
	return frames
}

// fill reads a block from frame next on. The offset always follows from the
// frame number, so that a short read never shifts what comes after. It fails
// only if it got no whole frame.
func (r *Reader) fill() error {
	size := r.format.frameBytes()
	raw := r.raw[:min(int64(len(r.raw)), (r.frames-r.next)*int64(size))]
	from := r.data.at + r.next*int64(size)
	n, err := readFullAt(r.src, raw, from)
	r.held, r.holds = r.next, n/size
	if r.holds == 0 {
		return &Error{Path: r.name, Offset: from + int64(n), Found: fmt.Sprintf("cannot read frame %d of %d", r.next, r.frames), Err: err}
	}
	return nil
}

// SeekFrame makes frame the next that Read delivers; 0 to Frames() are legal.
func (r *Reader) SeekFrame(frame int64) error {
	if frame < 0 || frame > r.frames {
		return fmt.Errorf("%s: seek to frame %d; legal: 0 to %d", r.name, frame, r.frames)
	}
	if frame <= r.unusable.first {
		r.unusable = unusable{}
	}
	r.next = frame
	return nil
}

// Close closes the file if Open opened it.
func (r *Reader) Close() error {
	if r.closer == nil {
		return nil
	}
	return r.closer.Close()
}

// blockFrames returns the length of a planar block after checking its shape.
func blockFrames(block [][]float64, channels int) int {
	if len(block) != channels {
		panic(fmt.Sprintf("wave: block of %d channels for a file of %d", len(block), channels))
	}
	for c := range block {
		if len(block[c]) != len(block[0]) {
			panic(fmt.Sprintf("wave: block of %d frames in channel %d and %d in channel 0", len(block[c]), c, len(block[0])))
		}
	}
	return len(block[0])
}

// maxReadFileSamples bounds ReadFile to 512 MiB of samples.
const maxReadFileSamples = 64 << 20

// ReadFile reads a whole short file into [channel][frame]. Files of more than
// 64 Mi samples, all channels together (12 minutes of stereo at 48 kHz), are
// refused: stream them with [Open].
func ReadFile(path string) (Format, [][]float64, error) {
	r, err := Open(path)
	if err != nil {
		return Format{}, nil, err
	}
	defer r.Close()
	f := r.Format()
	if r.Frames() > maxReadFileSamples/int64(f.Channels) {
		return Format{}, nil, fmt.Errorf("%s: %d frames of %d channels are too many to hold; legal: %d samples in all", path, r.Frames(), f.Channels, maxReadFileSamples)
	}
	samples := planar.New(f.Channels, int(r.Frames()))
	if r.Frames() == 0 {
		return f, samples, nil
	}
	if _, err := r.Read(samples); err != nil {
		return Format{}, nil, err
	}
	return f, samples, nil
}

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
