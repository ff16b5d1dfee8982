package wave

import (
	"fmt"
	"math/bits"
)

// Encoding says how a stored sample represents a number.
type Encoding uint8

const (
	// PCM is linear pulse-code modulation: unsigned with an offset of 128 in
	// 8-bit containers, two's complement in wider ones.
	PCM Encoding = iota
	// Float is IEEE 754 binary32 or binary64 with full scale at 1.0.
	Float
)

// String returns "PCM" or "float".
func (e Encoding) String() string {
	switch e {
	case PCM:
		return "PCM"
	case Float:
		return "float"
	}
	return fmt.Sprintf("encoding %d", uint8(e))
}

// Limits of what the package reads and writes.
const (
	MinRate     = 8_000   // Hz
	MaxRate     = 384_000 // Hz
	MaxChannels = 8
)

// Format describes the samples of a file.
type Format struct {
	// Rate is the sampling rate in hertz, MinRate to MaxRate.
	Rate int
	// Channels is 1 to MaxChannels.
	Channels int
	// Encoding is PCM or Float.
	Encoding Encoding
	// Bits is the width of the container of one sample: 8, 16, 24 or 32 for
	// PCM, 32 or 64 for Float.
	Bits int
	// ValidBits is the number of bits that carry signal, most significant
	// first, 8 to Bits. Zero given to Create stands for Bits. For Float it
	// equals Bits.
	ValidBits int
	// Extensible is true for a WAVE_FORMAT_EXTENSIBLE header. Create also
	// chooses that header by itself where the format asks for it; see Create.
	Extensible bool
	// ChannelMask assigns channels to loudspeaker positions, one bit each in
	// the order of the EXTENSIBLE specification and not more than channels; zero
	// assigns none.
	ChannelMask uint32
}

// String describes the format in a few words, such as
// "24-bit PCM, 2 channels, 48000 Hz".
func (f Format) String() string {
	bits := fmt.Sprint(f.Bits)
	if f.ValidBits != 0 && f.ValidBits != f.Bits {
		bits = fmt.Sprintf("%d-in-%d", f.ValidBits, f.Bits)
	}
	plural := "s"
	if f.Channels == 1 {
		plural = ""
	}
	return fmt.Sprintf("%s-bit %v, %d channel%s, %d Hz", bits, f.Encoding, f.Channels, plural, f.Rate)
}

// frameBytes is the size of one frame, the block alignment of the fmt chunk.
func (f Format) frameBytes() int { return f.Channels * f.Bits / 8 }

// illegal returns the first field out of its legal range: what it holds, what it
// may hold, and its offset in a fmt chunk. All are zero for a legal format.
func (f Format) illegal() (found, legal string, offset int64) {
	switch {
	case f.Channels < 1 || f.Channels > MaxChannels:
		return fmt.Sprintf("%d channels", f.Channels), fmt.Sprintf("1 to %d", MaxChannels), 2
	case f.Rate < MinRate || f.Rate > MaxRate:
		return fmt.Sprintf("sampling rate %d Hz", f.Rate), fmt.Sprintf("%d to %d Hz", MinRate, MaxRate), 4
	case bits.OnesCount32(f.ChannelMask) > f.Channels:
		return fmt.Sprintf("channel mask %#x of %d positions", f.ChannelMask, bits.OnesCount32(f.ChannelMask)), fmt.Sprintf("at most %d, one a channel", f.Channels), 20
	case f.Encoding == Float:
		return f.illegalFloat()
	case f.Encoding != PCM:
		return f.Encoding.String(), "PCM or float", 0
	case f.Bits != 8 && f.Bits != 16 && f.Bits != 24 && f.Bits != 32:
		return fmt.Sprintf("PCM container of %d bits", f.Bits), "8, 16, 24 or 32", 14
	case f.ValidBits < 8 || f.ValidBits > f.Bits:
		return fmt.Sprintf("%d valid bits in a PCM container of %d", f.ValidBits, f.Bits), fmt.Sprintf("8 to %d", f.Bits), 14
	}
	return "", "", 0
}

func (f Format) illegalFloat() (found, legal string, offset int64) {
	switch {
	case f.Bits != 32 && f.Bits != 64:
		return fmt.Sprintf("float of %d bits", f.Bits), "32 or 64", 14
	case f.ValidBits != f.Bits:
		return fmt.Sprintf("%d valid bits in a float of %d", f.ValidBits, f.Bits), "all of them", 14
	}
	return "", "", 0
}
