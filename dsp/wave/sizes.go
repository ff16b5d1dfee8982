package wave

import (
	"encoding/binary"
	"fmt"
	"math"
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

// dataSize settles the size of the audio that starts at offset at: as stored,
// from ds64, or to the end of the file when a streaming writer never filled it
// in. It never exceeds the file.
func (g *guard) dataSize(at int64, stored uint32) (uint64, error) {
	header, rest := at-chunkHeaderBytes, g.size-at
	if g.data.at != 0 {
		return 0, g.fault(header, "a second data chunk", "one")
	}
	if g.long && g.ds64 == nil {
		return 0, g.fault(header, "data chunk", "a ds64 chunk first in an RF64 or BW64 file")
	}
	size := uint64(stored)
	var err error
	if g.ds64 != nil && stored == unknown32 {
		size = g.ds64.data
		g.streamed = size == math.MaxUint64 || size == 0 && rest > 0
	} else if g.ds64 == nil {
		g.streamed, err = g.placeholder(at, stored)
	}
	switch {
	case err != nil:
		return 0, err
	case g.streamed:
		g.warn(header+4, "size %#x was never filled in by a streaming writer: the audio is taken to reach the end of the file", stored)
		return uint64(rest), nil
	case size > uint64(rest):
		g.truncated = true
		g.warn(header+4, "truncated: the data chunk declares %d bytes and the file holds %d of them", size, rest)
		return uint64(rest), nil
	}
	return size, nil
}

// placeholder tells whether the size stored for the audio at offset at is one
// that a writer leaves which cannot seek back: the largest signed or unsigned
// one or a little less (common practice), or zero.
func (g *guard) placeholder(at int64, stored uint32) (bool, error) {
	rest := g.size - at
	switch {
	case stored == unknown32:
		return true, nil
	case stored&streamed32 == streamed32:
		return int64(stored) > rest, nil
	case stored != 0 || rest == 0:
		return false, nil
	case g.riffSize == 0 || g.riffSize == unknown32 || int64(g.riffSize)+chunkHeaderBytes <= at:
		return true, nil
	case rest < chunkHeaderBytes:
		return false, nil
	}
	// An empty data chunk in a form of definite size: audio follows only if no
	// chunk does.
	var id [4]byte
	if err := g.read(id[:], at); err != nil {
		return false, err
	}
	return !printable(id), nil
}
