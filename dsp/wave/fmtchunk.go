package wave

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math/bits"

	"github.com/go-audio/riff"
)

// Sizes of the forms of the fmt chunk.
const (
	fmtBytesOldest     = 14 // WAVEFORMAT, no sample width
	fmtBytesPCM        = 16 // PCMWAVEFORMAT
	fmtBytesEx         = 18 // WAVEFORMATEX, adds the length of an extension
	fmtBytesExtensible = 40 // WAVEFORMATEXTENSIBLE
	// fmtBytesMost is WAVEFORMATEX with the longest extension that its 16-bit
	// length can state.
	fmtBytesMost = fmtBytesEx + 0xFFFF
	// extensionBytes is the extension that EXTENSIBLE needs.
	extensionBytes = fmtBytesExtensible - fmtBytesEx
)

// format parses the fmt chunk. Only the first 40 bytes of it are ever read.
func (g *guard) format() (Format, error) {
	if g.fmt.size < fmtBytesOldest || g.fmt.size > fmtBytesMost {
		return Format{}, g.fault(g.fmt.at-4, fmt.Sprintf("fmt chunk of %d bytes", g.fmt.size),
			fmt.Sprintf("%d, %d, %d, %d or an extension up to %d", fmtBytesOldest, fmtBytesPCM, fmtBytesEx, fmtBytesExtensible, fmtBytesMost))
	}
	b := make([]byte, fmtBytesExtensible)
	n := min(g.fmt.size, fmtBytesExtensible)
	if err := g.read(b[:n], g.fmt.at); err != nil {
		return Format{}, err
	}
	h, err := commonFields(b)
	if err != nil {
		return Format{}, &Error{Path: g.name, Offset: g.fmt.at, Found: "fmt chunk", Err: err}
	}
	tag := h.WavAudioFormat
	if tag == tagExtensible {
		return g.extensible(h, b)
	}
	f := Format{Rate: int(h.SampleRate), Channels: int(h.NumChannels)}
	if f.Encoding, err = g.encoding(g.fmt.at, tag); err != nil {
		return Format{}, err
	}
	return g.plain(f, h)
}

// commonFields lets the library decode the fields that every form of the chunk
// shares. It is right on a chunk whose length is known to be there; it does not
// look at lengths itself.
func commonFields(b []byte) (*riff.Parser, error) {
	p := riff.New(nil)
	c := riff.Chunk{ID: riff.FmtID, Size: len(b), R: bytes.NewReader(b)}
	if err := c.DecodeWavHeader(p); err != nil {
		return nil, err
	}
	return p, nil
}

// plain completes a format without EXTENSIBLE fields. Bits per sample may be
// less than the container, which is then the next whole byte.
func (g *guard) plain(f Format, h *riff.Parser) (Format, error) {
	if err := g.container(&f, h); err != nil {
		return Format{}, err
	}
	f.ValidBits = int(h.BitsPerSample)
	if g.fmt.size < fmtBytesPCM {
		f.ValidBits = f.Bits
	}
	if (f.ValidBits+7)/8*8 != f.Bits {
		return Format{}, g.fault(g.fmt.at+12, fmt.Sprintf("frames of %d bytes for %d channels of %d bits", h.BlockAlign, f.Channels, f.ValidBits),
			"frames of the channels' whole bytes")
	}
	return f, g.legal(f, h)
}

// container derives the bytes of one sample from the frame size.
func (g *guard) container(f *Format, h *riff.Parser) error {
	if f.Channels < 1 || f.Channels > MaxChannels {
		return g.fault(g.fmt.at+2, fmt.Sprintf("%d channels", f.Channels), fmt.Sprintf("1 to %d", MaxChannels))
	}
	if int(h.BlockAlign)%f.Channels != 0 {
		return g.fault(g.fmt.at+12, fmt.Sprintf("frames of %d bytes for %d channels", h.BlockAlign, f.Channels), "a multiple of the channels")
	}
	f.Bits = int(h.BlockAlign) / f.Channels * 8
	return nil
}

// legal checks the ranges and the redundant byte rate.
func (g *guard) legal(f Format, h *riff.Parser) error {
	if found, legal, offset := f.illegal(); found != "" {
		return g.fault(g.fmt.at+offset, found, legal)
	}
	if want := uint32(f.Rate * f.frameBytes()); h.AvgBytesPerSec != want {
		g.warn(g.fmt.at+8, "byte rate %d is ignored, the format makes it %d", h.AvgBytesPerSec, want)
	}
	return nil
}

// extensible parses the EXTENSIBLE fields of the 40 bytes b.
func (g *guard) extensible(h *riff.Parser, b []byte) (Format, error) {
	extra := int(binary.LittleEndian.Uint16(b[16:]))
	if g.fmt.size < fmtBytesExtensible || extra < extensionBytes {
		return Format{}, g.fault(g.fmt.at-4, fmt.Sprintf("EXTENSIBLE fmt chunk of %d bytes with an extension of %d", g.fmt.size, extra),
			fmt.Sprintf("at least %d with %d", fmtBytesExtensible, extensionBytes))
	}
	f := Format{Rate: int(h.SampleRate), Channels: int(h.NumChannels), Extensible: true, ChannelMask: binary.LittleEndian.Uint32(b[20:])}
	if id := [16]byte(b[24:]); !hasTag(id) {
		return Format{}, g.fault(g.fmt.at+24, "sub-format "+guidString(id), "PCM or IEEE float")
	}
	var err error
	if f.Encoding, err = g.encoding(g.fmt.at+24, binary.LittleEndian.Uint16(b[24:])); err != nil {
		return Format{}, err
	}
	if err := g.container(&f, h); err != nil {
		return Format{}, err
	}
	if int(h.BitsPerSample) != f.Bits {
		return Format{}, g.fault(g.fmt.at+14, fmt.Sprintf("containers of %d bits in frames of %d bytes for %d channels", h.BitsPerSample, h.BlockAlign, f.Channels),
			fmt.Sprintf("%d", f.Bits))
	}
	f.ValidBits = int(binary.LittleEndian.Uint16(b[18:]))
	if f.ValidBits == 0 {
		f.ValidBits = f.Bits
		g.warn(g.fmt.at+18, "0 valid bits: all %d are taken as valid", f.Bits)
	}
	for n := bits.OnesCount32(f.ChannelMask); n > f.Channels; n-- {
		position := uint32(1) << (bits.Len32(f.ChannelMask) - 1)
		f.ChannelMask &^= position
		g.warn(g.fmt.at+20, "channel mask assigns more than %d channels: position %#x is ignored", f.Channels, position)
	}
	return f, g.legal(f, h)
}

// encoding accepts PCM and float and refuses the rest by name.
func (g *guard) encoding(at int64, tag uint16) (Encoding, error) {
	switch tag {
	case tagPCM:
		return PCM, nil
	case tagFloat:
		return Float, nil
	}
	return 0, g.fault(at, fmt.Sprintf("format tag 0x%04X%s", tag, tagName(tag)), "0x0001 (PCM) or 0x0003 (IEEE float), plain or within 0xFFFE (EXTENSIBLE)")
}

// Format tags of the fmt chunk, as RFC 2361 registers them; 0xFFFE is that of the
// EXTENSIBLE specification.
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// tagName returns in brackets what a tag that is not read stands for. The registry
// gives all others but 0 to compressed formats.
func tagName(tag uint16) string {
	switch tag {
	case 0:
		return " (unknown)"
	case tagExtensible:
		return " (EXTENSIBLE)"
	}
	return " (a compressed format)"
}

// guidTail is what follows the tag in the sub-format identifiers that are made
// from format tags: XXXXXXXX-0000-0010-8000-00AA00389B71 as stored.
var guidTail = [14]byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71}

// hasTag tells whether a stored sub-format identifier is made from a tag, which
// then is in its first two bytes.
func hasTag(id [16]byte) bool { return [14]byte(id[2:]) == guidTail }

// guidString renders a stored identifier; its first three groups are
// little-endian.
func guidString(id [16]byte) string {
	return fmt.Sprintf("{%02X%02X%02X%02X-%02X%02X-%02X%02X-%X-%X}",
		id[3], id[2], id[1], id[0], id[5], id[4], id[7], id[6], id[8:10], id[10:])
}
