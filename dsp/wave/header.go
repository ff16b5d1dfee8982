package wave

import (
	"encoding/binary"
	"fmt"
	"strings"

	"github.com/go-audio/riff"
)

var (
	idJunk = [4]byte{'J', 'U', 'N', 'K'}
	idFact = [4]byte{'f', 'a', 'c', 't'}
)

// maxRIFFSize is the largest form size that RIFF can state: the value above it
// means "unknown".
const maxRIFFSize = unknown32 - 1

// header lays out everything before the samples. Its length does not depend on
// theirs, so that the header written first can be overwritten at the end.
type header struct {
	format  Format
	info    []byte // LIST chunk, may be empty
	limit   int64  // form size above which the file becomes RF64
	frames  int64
	content int64 // bytes of samples
}

// bytes returns the header: form, room for ds64, fmt, fact where due, data.
func (h header) bytes() []byte {
	b := h.form(h.length() + h.content + h.content%2 - chunkHeaderBytes)
	b = h.fmtChunk(b)
	if h.tag() != tagPCM {
		b = appendChunk(b, idFact, 4)
		b = appendLE32(b, clamp32(h.frames))
	}
	b = append(b, h.info...)
	size := uint32(h.content)
	if h.long() {
		size = unknown32
	}
	return appendChunk(b, riff.DataFormatID, size)
}

// length is len(h.bytes()).
func (h header) length() int64 {
	n := riffHeaderBytes + chunkHeaderBytes + ds64Bytes + chunkHeaderBytes + h.fmtSize() + len(h.info) + chunkHeaderBytes
	if h.tag() != tagPCM {
		n += chunkHeaderBytes + 4
	}
	return int64(n)
}

// long tells whether the form needs 64-bit sizes.
func (h header) long() bool {
	return h.length()+h.content+h.content%2-chunkHeaderBytes > h.limit
}

// form appends the form header and the reserved chunk, which is JUNK while the
// sizes fit in 32 bits and ds64 afterwards (EBU Tech 3306, 2007, section 3.5).
func (h header) form(size int64) []byte {
	b := make([]byte, 0, h.length())
	if !h.long() {
		b = appendChunk(b, riff.RiffID, uint32(size))
		b = append(b, riff.WavFormatID[:]...)
		b = appendChunk(b, idJunk, ds64Bytes)
		return append(b, make([]byte, ds64Bytes)...)
	}
	b = appendChunk(b, idRF64, unknown32)
	b = append(b, riff.WavFormatID[:]...)
	b = appendChunk(b, idDS64, ds64Bytes)
	b = binary.LittleEndian.AppendUint64(b, uint64(size))
	b = binary.LittleEndian.AppendUint64(b, uint64(h.content))
	b = binary.LittleEndian.AppendUint64(b, uint64(h.frames))
	return appendLE32(b, 0) // entries in the table of other long chunks
}

// tag returns the format tag that the format asks for. EXTENSIBLE is due for
// more than two channels, PCM of more than 16 bits, bits that do not fill the
// container, and any assignment to loudspeakers (Microsoft, "Multiple Channel
// Audio Data and WAVE Files").
func (h header) tag() uint16 {
	f := h.format
	switch {
	case f.Extensible || f.Channels > 2 || f.ChannelMask != 0 || f.ValidBits != f.Bits || f.Encoding == PCM && f.Bits > 16:
		return tagExtensible
	case f.Encoding == Float:
		return tagFloat
	}
	return tagPCM
}

func (h header) fmtSize() int {
	switch h.tag() {
	case tagExtensible:
		return fmtBytesExtensible
	case tagFloat:
		return fmtBytesEx
	}
	return fmtBytesPCM
}

func (h header) fmtChunk(b []byte) []byte {
	f := h.format
	b = appendChunk(b, riff.FmtID, uint32(h.fmtSize()))
	b = appendLE16(b, h.tag())
	b = appendLE16(b, uint16(f.Channels))
	b = appendLE32(b, uint32(f.Rate))
	b = appendLE32(b, uint32(f.Rate*f.frameBytes()))
	b = appendLE16(b, uint16(f.frameBytes()))
	b = appendLE16(b, uint16(f.Bits))
	switch h.tag() {
	case tagFloat:
		b = appendLE16(b, 0)
	case tagExtensible:
		b = appendLE16(b, extensionBytes)
		b = appendLE16(b, uint16(f.ValidBits))
		b = appendLE32(b, h.mask())
		sub := uint16(tagPCM)
		if f.Encoding == Float {
			sub = tagFloat
		}
		b = appendLE16(b, sub)
		b = append(b, guidTail[:]...)
	}
	return b
}

// mask is the channel mask as given, except that a plain mono or stereo format
// which needs the EXTENSIBLE header for its width gets the usual positions.
func (h header) mask() uint32 {
	const frontLeft, frontRight, frontCentre = 1, 2, 4
	f := h.format
	switch {
	case f.Extensible || f.ChannelMask != 0:
	case f.Channels == 1:
		return frontCentre
	case f.Channels == 2:
		return frontLeft | frontRight
	}
	return f.ChannelMask
}

func appendChunk(b []byte, id [4]byte, size uint32) []byte {
	return appendLE32(append(b, id[:]...), size)
}

func appendLE16(b []byte, v uint16) []byte { return binary.LittleEndian.AppendUint16(b, v) }

func appendLE32(b []byte, v uint32) []byte { return binary.LittleEndian.AppendUint32(b, v) }

// clamp32 is n, or the mark for "see ds64" where n does not fit.
func clamp32(n int64) uint32 { return uint32(min(n, unknown32)) }

// Error is a fault in a file: where it is, what was found there and what would
// have been legal.
type Error struct {
	Path   string // the file's name as given to Open or NewReader
	Offset int64  // byte offset of the faulty field
	Found  string // what the field holds
	Legal  string // what it may hold; empty when the fault is not one of content
	Err    error  // the cause, such as io.ErrUnexpectedEOF or a disk error; may be nil
}

// Error returns "path: byte offset: found; legal: …: cause".
func (e *Error) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: byte %d: %s", e.Path, e.Offset, e.Found)
	if e.Legal != "" {
		fmt.Fprintf(&b, "; legal: %s", e.Legal)
	}
	if e.Err != nil {
		fmt.Fprintf(&b, ": %v", e.Err)
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }
