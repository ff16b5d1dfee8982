package render

import (
	"bufio"
	"encoding/binary"
	"io"
	"math"
	"os"
)

// A spool holds one track's planar blocks in full precision on disk between
// the pass that measures them and the pass that writes them: matching gain and
// best-fitting gain are known only when the whole file has been seen, and a
// file may be hours long.
type spool struct {
	file *os.File
	w    *bufio.Writer
}

// spoolBuffer is the buffer between blocks and the disk, in bytes.
const spoolBuffer = 64 << 10

// newSpool creates a spool in folder dir. Its file is removed by close.
func newSpool(dir string) (*spool, error) {
	file, err := os.CreateTemp(dir, ".spool-*")
	if err != nil {
		return nil, err
	}
	return &spool{file: file, w: bufio.NewWriterSize(file, spoolBuffer)}, nil
}

// write appends one planar block of any length, interleaved.
func (s *spool) write(block [][]float64) error {
	for from := 0; from < len(block[0]); {
		if s.w.Available() < 8*len(block) {
			if err := s.w.Flush(); err != nil {
				return err
			}
		}
		buffer := s.w.AvailableBuffer()
		to := min(len(block[0]), from+s.w.Available()/(8*len(block)))
		for i := from; i < to; i++ {
			for _, channel := range block {
				buffer = binary.LittleEndian.AppendUint64(buffer, math.Float64bits(channel[i]))
			}
		}
		if _, err := s.w.Write(buffer); err != nil {
			return err
		}
		from = to
	}
	return nil
}

// flush makes all that was written readable.
func (s *spool) flush() error { return s.w.Flush() }

// reader returns a reader from the spool's start. Several may be used at once,
// each by one goroutine, after flush.
func (s *spool) reader() *spoolReader {
	return &spoolReader{r: io.NewSectionReader(s.file, 0, math.MaxInt64)}
}

// close removes the spool's file.
func (s *spool) close() error {
	s.file.Close()
	return os.Remove(s.file.Name())
}

// A spoolReader reads back what a spool holds.
type spoolReader struct {
	r     io.Reader
	bytes []byte
}

// read fills one planar block of any length.
func (s *spoolReader) read(block [][]float64) error {
	need := 8 * len(block) * len(block[0])
	if cap(s.bytes) < need {
		s.bytes = make([]byte, need)
	}
	b := s.bytes[:need]
	if _, err := io.ReadFull(s.r, b); err != nil {
		return err
	}
	stride := 8 * len(block)
	for c, channel := range block {
		at := 8 * c
		for i := range channel {
			channel[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[at:]))
			at += stride
		}
	}
	return nil
}

// A keeper keeps a track's blocks until the track is written or used.
type keeper interface {
	write(block [][]float64) error
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

func (m *memoryKeep) write(block [][]float64) error {
	if m.audio == nil {
		m.audio = make([][]float64, len(block))
		for c := range m.audio {
			m.audio[c] = make([]float64, 0, m.frames)
		}
	}
	for c := range block {
		m.audio[c] = append(m.audio[c], block[c]...)
	}
	return nil
}

func (m *memoryKeep) flush() error { return nil }
func (m *memoryKeep) close() error { return nil }
