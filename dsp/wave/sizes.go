package wave

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/go-audio/riff"
)

// ds64 holds the 64-bit sizes of an RF64 or BW64 file (EBU Tech 3306, ITU-R
// BS.2088).
type ds64 struct {
	at         int64 // of the content
	riff, data uint64
	table      map[[4]byte]uint64 // other chunks of 4 GiB or more
}

const (
	ds64Bytes      = 28 // without table entries
	ds64EntryBytes = 12
	maxDS64Entries = 256
)

// readDS64 parses the ds64 chunk, which must be the first of an RF64 file.
func (g *guard) readDS64(c extent) error {
	at := c.at - chunkHeaderBytes
	switch {
	case !g.long:
		g.warn(at, "ds64 chunk in a RIFF file is ignored")
		return nil
	case at != riffHeaderBytes:
		return g.fault(at, "ds64 chunk", fmt.Sprintf("only as the first chunk, at byte %d", riffHeaderBytes))
	case c.size < ds64Bytes:
		return g.fault(at+4, fmt.Sprintf("ds64 chunk of %d bytes", c.size), fmt.Sprintf("at least %d", ds64Bytes))
	}
	var b [ds64Bytes]byte
	if err := g.read(b[:], c.at); err != nil {
		return err
	}
	g.ds64 = &ds64{
		at:   c.at,
		riff: binary.LittleEndian.Uint64(b[0:]),
		data: binary.LittleEndian.Uint64(b[8:]),
	}
	return g.readTable(c, binary.LittleEndian.Uint32(b[24:]))
}

func (g *guard) readTable(c extent, entries uint32) error {
	room := min((c.size-ds64Bytes)/ds64EntryBytes, maxDS64Entries)
	if int64(entries) > room {
		return g.fault(c.at+24, fmt.Sprintf("ds64 table of %d entries", entries), fmt.Sprintf("at most %d here", room))
	}
	g.ds64.table = make(map[[4]byte]uint64, entries)
	for i := range int64(entries) {
		var b [ds64EntryBytes]byte
		if err := g.read(b[:], c.at+ds64Bytes+i*ds64EntryBytes); err != nil {
			return err
		}
		g.ds64.table[[4]byte(b[:4])] = binary.LittleEndian.Uint64(b[4:])
	}
	return nil
}

// declared returns the size of a chunk other than data as the file states it.
func (g *guard) declared(id [4]byte, at int64, stored uint32) (uint64, error) {
	if g.long && g.ds64 == nil && id != idDS64 {
		return 0, g.fault(at, fmt.Sprintf("chunk %q", id[:]), "a ds64 chunk first in an RF64 or BW64 file")
	}
	if g.ds64 != nil && stored == unknown32 {
		size, ok := g.ds64.table[id]
		if !ok {
			return 0, g.fault(at+4, fmt.Sprintf("chunk %q with size 0xFFFFFFFF", id[:]), "an entry for it in the ds64 table")
		}
		return size, nil
	}
	return uint64(stored), nil
}

// dataChunk settles the size of the audio: as stored, from ds64, or to the end
// of the file when a streaming writer never filled it in.
func (g *guard) dataChunk(c extent, stored uint32) (*extent, error) {
	at, rest := c.at-chunkHeaderBytes, g.size-c.at
	if g.data.at != 0 {
		return nil, g.fault(at, "a second data chunk", "one")
	}
	if g.long && g.ds64 == nil {
		return nil, g.fault(at, "data chunk", "a ds64 chunk first in an RF64 or BW64 file")
	}
	size := uint64(stored)
	if g.ds64 != nil && stored == unknown32 {
		size = g.ds64.data
	}
	var err error
	if g.streamed, err = g.placeholder(c, stored, size); err != nil {
		return nil, err
	}
	switch {
	case g.streamed:
		g.warn(at+4, "size %#x was never filled in by a streaming writer: the audio is taken to reach the end of the file", stored)
		size = uint64(rest)
	case size > uint64(rest):
		g.truncated = true
		g.warn(at+4, "truncated: the data chunk declares %d bytes and the file holds %d of them", size, rest)
		size = uint64(rest)
	}
	c.size = int64(size)
	g.data = c
	return &c, nil
}

// placeholder tells whether the size of the data chunk is a placeholder.
func (g *guard) placeholder(c extent, stored uint32, size uint64) (bool, error) {
	rest := uint64(g.size - c.at)
	switch {
	case size == math.MaxUint64 && g.long:
		return true, nil
	case g.ds64 != nil:
		return size == 0 && stored == unknown32 && rest > 0, nil
	case stored == unknown32:
		return true, nil
	case stored >= streamed32 && size > rest:
		return true, nil
	case stored != 0 || rest == 0:
		return false, nil
	case g.riffSize == 0 || g.riffSize == unknown32 || int64(g.riffSize)+chunkHeaderBytes <= c.at:
		return true, nil
	case rest < chunkHeaderBytes:
		return false, nil
	}
	// An empty data chunk in a form of definite size: audio follows only if no
	// chunk does.
	var id [4]byte
	if err := g.read(id[:], c.at); err != nil {
		return false, err
	}
	return !printable(id) && id != riff.DataFormatID, nil
}
