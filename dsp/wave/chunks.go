package wave

import (
	"encoding/binary"
	"fmt"

	"github.com/go-audio/riff"
)

// chunks walks the chain from the form header to the end of the file.
func (g *guard) chunks() error {
	at := int64(riffHeaderBytes)
	for count := 0; g.size-at >= chunkHeaderBytes; count++ {
		if count == maxChunks {
			return g.tail(at, fmt.Sprintf("more than %d chunks", maxChunks), fmt.Sprintf("at most %d", maxChunks))
		}
		next, err := g.chunk(at)
		if err != nil {
			return err
		}
		at = next
	}
	if at < g.size {
		g.warn(at, "%d bytes after the last chunk are ignored", g.size-at)
	}
	return nil
}

// tail reports a fault in the chain. Once format and data are known it costs
// no more than metadata and becomes a warning.
func (g *guard) tail(at int64, found, legal string) error {
	if g.fmt.at == 0 || g.data.at == 0 {
		return g.fault(at, found, legal)
	}
	g.warn(at, "%s after the audio; the rest of the file is ignored", found)
	return nil
}

// chunk reads the chunk header at offset at, files the chunk and returns the
// offset of the next header: the file's size where the walk cannot go on.
func (g *guard) chunk(at int64) (next int64, err error) {
	var head [chunkHeaderBytes]byte
	if err := g.read(head[:], at); err != nil {
		return 0, err
	}
	id := [4]byte(head[:4])
	if !printable(id) {
		return g.size, g.tail(at, fmt.Sprintf("chunk identifier %q", id[:]), "four printable ASCII characters")
	}
	stored, body := binary.LittleEndian.Uint32(head[4:]), at+chunkHeaderBytes
	var size uint64
	if id == riff.DataFormatID {
		size, err = g.dataSize(body, stored)
	} else {
		size, err = g.declared(id, at, stored)
	}
	if err != nil {
		return 0, err
	}
	if rest := g.size - body; size > uint64(rest) {
		return g.size, g.tail(at+4, fmt.Sprintf("chunk %q of %d bytes", id[:], size), fmt.Sprintf("at most the %d bytes left in the file", rest))
	}
	c := extent{at: body, size: int64(size)}
	return g.next(c), g.file(id, c)
}

// file keeps the extents of the chunks that matter.
func (g *guard) file(id [4]byte, c extent) error {
	switch id {
	case riff.FmtID:
		if g.fmt.at != 0 {
			return g.fault(c.at-chunkHeaderBytes, "a second fmt chunk", "one")
		}
		g.fmt = c
	case riff.DataFormatID:
		g.data = c
	case idDS64:
		return g.readDS64(c)
	case idList:
		return g.fileList(c)
	}
	return nil
}

// fileList keeps a LIST chunk if its type is INFO.
func (g *guard) fileList(c extent) error {
	var kind [4]byte
	if g.info.at != 0 || c.size < int64(len(kind)) {
		return nil
	}
	if err := g.read(kind[:], c.at); err != nil {
		return err
	}
	if kind == idInfo {
		g.info = c
	}
	return nil
}

// next returns the offset of the header after c. Chunks are padded to an even
// length by a zero byte; some writers forget it, which shows as the next
// identifier starting where the pad byte should be.
func (g *guard) next(c extent) int64 {
	at := c.end()
	if at%2 == 0 || at >= g.size {
		return at
	}
	var b [4]byte
	if g.size-at >= chunkHeaderBytes && g.read(b[:], at) == nil && (b == riff.FmtID || b == riff.DataFormatID) {
		g.warn(at, "pad byte missing after a chunk of %d bytes", c.size)
		return at
	}
	return at + 1
}

func printable(id [4]byte) bool {
	for _, c := range id {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}
