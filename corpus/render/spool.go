package render

import (
	"bufio"
	"io"
	"math"
	"os"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/planar"
)

// A spool holds one track on disk between the pass that measures it and the pass that writes
// it: matching gain and best-fitting gain are known only when the whole file has been seen,
// and a file may be hours long.
//
// What a rung puts out is nearly its reference, so that of every block of a channel the
// gain that fits the reference best is kept and what is left of it then; of the reference,
// all. Both are reduced to integers of their own maximum in the block (see coding): of the
// reference 2^31, of what is left 2^23. So a rendering comes back to -192 dB of its peak and
// what is left to -144 dB of the residual's own, less than the noise of files of up to 24
// bits, in 3/8 of the space. For others tracks are kept to the bit.
type spool struct {
	file   *os.File
	w      *bufio.Writer
	coding coding
	track  planar.Audio // the block being gathered
	beside planar.Audio // the reference beside it; nil unless it is taken out
	held   int          // frames gathered
	frames int64        // written, with those
	code   []byte
}

const (
	spoolBuffer = 64 << 10 // bytes between blocks and the disk
	spoolFrames = 512      // of a block
)

// newSpool creates a spool in folder dir, for the remains of a rung beside its reference or
// for a track by itself. Its file is removed by close.
func newSpool(dir string, channels int, c coding) (*spool, error) {
	file, err := os.CreateTemp(dir, ".spool-*")
	if err != nil {
		return nil, err
	}
	s := &spool{
		file:   file,
		w:      bufio.NewWriterSize(file, spoolBuffer),
		coding: c,
		track:  planar.New(channels, spoolFrames),
	}
	if c == remains {
		s.beside = planar.New(channels, spoolFrames)
	}
	return s, nil
}

// write appends one planar block of any length, beside the same of the reference.
func (s *spool) write(track, reference [][]float64) error {
	for from, frames := 0, len(track[0]); from < frames; {
		to := min(frames, from+spoolFrames-s.held)
		for c := range track {
			copy(s.track[c][s.held:], track[c][from:to])
		}
		for c := range s.beside {
			copy(s.beside[c][s.held:], reference[c][from:to])
		}
		s.held += to - from
		s.frames += int64(to - from)
		from = to
		if s.held == spoolFrames {
			if err := s.emit(); err != nil {
				return err
			}
		}
	}
	return nil
}

// emit codes and writes what is gathered.
func (s *spool) emit() error {
	s.code = s.code[:0]
	for c, x := range s.track {
		x, gain := x[:s.held], 0.
		if s.beside != nil {
			gain = takeOut(x, s.beside[c][:s.held])
		}
		s.code = s.coding.append(s.code, gain, x)
	}
	s.held = 0
	_, err := s.w.Write(s.code)
	return err
}

// takeOut takes the reference out of x with the gain that fits best, and returns that.
func takeOut(x, reference []float64) float64 {
	var f fit
	f.add([][]float64{x}, [][]float64{reference})
	gain := f.gain()
	if math.IsNaN(gain) || math.IsInf(gain, 0) {
		return 0
	}
	floats.AddScaled(x, -gain, reference)
	return gain
}

// flush makes all that was written readable.
func (s *spool) flush() error {
	if s.held > 0 {
		if err := s.emit(); err != nil {
			return err
		}
	}
	return s.w.Flush()
}

// reader returns a reader from the spool's start. Several may be used at once,
// each by one goroutine, after flush.
func (s *spool) reader() *spoolReader {
	return &spoolReader{
		coding: s.coding,
		r:      bufio.NewReaderSize(io.NewSectionReader(s.file, 0, math.MaxInt64), spoolBuffer),
		left:   s.frames,
		block:  planar.New(len(s.track), spoolFrames),
		gains:  make([]float64, len(s.track)),
	}
}

// close removes the spool's file.
func (s *spool) close() error {
	s.file.Close()
	return os.Remove(s.file.Name())
}

// A spoolReader reads back what a spool holds.
type spoolReader struct {
	coding   coding
	r        *bufio.Reader
	left     int64        // frames not decoded yet
	block    planar.Audio // what is left of the reference
	gains    []float64    // of the reference in it
	from, to int          // frames of the block not read yet
}

// read fills one planar block of any length. reference is the same block of the reference,
// nil of that itself.
func (s *spoolReader) read(track, reference [][]float64) error {
	for at, frames := 0, len(track[0]); at < frames; {
		if s.from == s.to {
			if err := s.next(); err != nil {
				return err
			}
		}
		n := min(s.to-s.from, frames-at)
		for c := range track {
			copy(track[c][at:at+n], s.block[c][s.from:])
			if reference != nil {
				floats.AddScaled(track[c][at:at+n], s.gains[c], reference[c][at:at+n])
			}
		}
		at, s.from = at+n, s.from+n
	}
	return nil
}

// next decodes the next block.
func (s *spoolReader) next() error {
	n := int(min(s.left, spoolFrames))
	if n == 0 {
		return io.ErrUnexpectedEOF
	}
	for c := range s.block {
		gain, err := s.coding.read(s.r, s.block[c][:n])
		if err != nil {
			return err
		}
		s.gains[c] = gain
	}
	s.left -= int64(n)
	s.from, s.to = 0, n
	return nil
}

// A keeper keeps a track's blocks until the track is written or used.
type keeper interface {
	// write keeps a block beside the same of the reference.
	write(track, reference [][]float64) error
	// flush makes all that was written readable.
	flush() error
	// close gives up what is kept.
	close() error
}

// memoryKeep keeps a short track in memory, planar, of about so many frames.
type memoryKeep struct {
	audio  [][]float64
	frames int
}

func (m *memoryKeep) write(track, _ [][]float64) error {
	if m.audio == nil {
		m.audio = make([][]float64, len(track))
		for c := range m.audio {
			m.audio[c] = make([]float64, 0, m.frames)
		}
	}
	for c := range track {
		m.audio[c] = append(m.audio[c], track[c]...)
	}
	return nil
}

func (m *memoryKeep) flush() error { return nil }
func (m *memoryKeep) close() error { return nil }
