package render

import (
	"fmt"

	"quietcross/dsp/wave"
)

// ParseFormat reads the name of a sample format that can be written: pcm16,
// pcm24, pcm32 or float32. Rate and channels of the result are zero.
func ParseFormat(name string) (wave.Format, error) {
	switch name {
	case "pcm16":
		return wave.Format{Encoding: wave.PCM, Bits: 16}, nil
	case "pcm24":
		return wave.Format{Encoding: wave.PCM, Bits: 24}, nil
	case "pcm32":
		return wave.Format{Encoding: wave.PCM, Bits: 32}, nil
	case "float32":
		return wave.Format{Encoding: wave.Float, Bits: 32}, nil
	}
	return wave.Format{}, fmt.Errorf("format: found %q, legal are pcm16, pcm24, pcm32 and float32", name)
}

// outputFormat returns the format in which tracks of a source are written: the
// source's own, or want's sample format at the source's rate and channels.
// Formats that are read but not written go to the nearest that loses nothing
// one can hear: 8-bit to 16-bit, 64-bit float to 32-bit float.
func outputFormat(source wave.Format, want *wave.Format) wave.Format {
	out := source
	if want != nil {
		out.Encoding, out.Bits, out.ValidBits, out.Extensible = want.Encoding, want.Bits, 0, false
	}
	if out.Encoding == wave.PCM && out.Bits < 16 {
		out.Bits, out.ValidBits = 16, 0
	}
	if out.Encoding == wave.Float && out.Bits > 32 {
		out.Bits, out.ValidBits = 32, 0
	}
	return out
}
