package server

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"sync"
)

// Two hundred listeners hear hundreds of clips of megabytes each; memory holds none of
// them. Every clip of a server, the references too, so that none takes longer than
// another, lies in one temporary file, which is the system's to cache. The file has no
// name while it is in use, where the system allows that, so that a server that is killed
// leaves nothing.

// spool is that file.
type spool struct {
	mu   sync.Mutex
	file *os.File // nil before the first clip
	end  int64
}

// stored is a clip in the spool: single precision, one channel after the other. Its error
// lies under the dither that clips get.
type stored struct {
	file             *os.File
	at               int64
	channels, frames int
}

// put stores a clip of equally long channels.
func (p *spool) put(audio [][]float64) (*stored, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.file == nil {
		file, err := os.CreateTemp("", "quietcross-clips-*")
		if err != nil {
			return nil, fmt.Errorf("panel: no place for the clips: %w", err)
		}
		os.Remove(file.Name()) // where a file in use keeps its name, close removes it
		p.file = file
	}
	s := &stored{p.file, p.end, len(audio), len(audio[0])}
	buffer := make([]byte, 0, 4*len(audio[0]))
	for _, channel := range audio {
		buffer = buffer[:0]
		for _, x := range channel {
			buffer = binary.LittleEndian.AppendUint32(buffer, math.Float32bits(float32(x)))
		}
		n, err := p.file.WriteAt(buffer, p.end)
		if err != nil {
			return nil, fmt.Errorf("panel: no room for the clips: %w", err)
		}
		p.end += int64(n)
	}
	return s, nil
}

// close ends the file; clips of it cannot be read any more.
func (p *spool) close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.file == nil {
		return nil
	}
	defer os.Remove(p.file.Name())
	return p.file.Close()
}

// blocks are buffers of what is read.
var blocks = sync.Pool{New: func() any { b := make([]byte, 4*blockFrames); return &b }}

func (s *stored) size() (channels, frames int) { return s.channels, s.frames }

// read fills dst with the samples of a channel from a frame on.
func (s *stored) read(dst []float32, channel, from int) error {
	buffer := *blocks.Get().(*[]byte)
	defer blocks.Put(&buffer)
	if cap(buffer) < 4*len(dst) {
		buffer = make([]byte, 4*len(dst))
	}
	buffer = buffer[:4*len(dst)]
	if _, err := s.file.ReadAt(buffer, s.at+4*(int64(channel)*int64(s.frames)+int64(from))); err != nil {
		return err
	}
	for i := range dst {
		dst[i] = math.Float32frombits(binary.LittleEndian.Uint32(buffer[4*i:]))
	}
	return nil
}
