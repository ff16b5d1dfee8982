package wave

import (
	"encoding/binary"
	"fmt"
	"math"
)

// decoder converts interleaved frames to dst[channel][at:at+frames]. It returns
// how many samples it had to replace by 0 and the frame, counted from the
// start of the block, of the first of them.
type decoder func(dst [][]float64, at, frames int, src []byte) (first, bad int)

func decoderOf(f Format) decoder {
	switch {
	case f.Encoding == Float && f.Bits == 32:
		return decodeFloat32
	case f.Encoding == Float:
		return decodeFloat64
	case f.Bits == 8:
		return decodePCM8
	case f.Bits == 16:
		return decodePCM16
	case f.Bits == 24:
		return decodePCM24
	}
	return decodePCM32
}

func decodePCM8(dst [][]float64, at, frames int, src []byte) (first, bad int) {
	stride := len(dst)
	for c := range dst {
		out, in := dst[c][at:at+frames], src[c:]
		for i := range out {
			out[i] = float64(int(in[i*stride])-128) * 0x1p-7
		}
	}
	return 0, 0
}

func decodePCM16(dst [][]float64, at, frames int, src []byte) (first, bad int) {
	stride := 2 * len(dst)
	for c := range dst {
		out, in := dst[c][at:at+frames], src[2*c:]
		for i := range out {
			out[i] = float64(int16(binary.LittleEndian.Uint16(in[i*stride:]))) * 0x1p-15
		}
	}
	return 0, 0
}

func decodePCM24(dst [][]float64, at, frames int, src []byte) (first, bad int) {
	stride := 3 * len(dst)
	for c := range dst {
		out, in := dst[c][at:at+frames], src[3*c:]
		for i := range out {
			b := in[i*stride : i*stride+3]
			v := int32(uint32(b[0])<<8 | uint32(b[1])<<16 | uint32(b[2])<<24)
			out[i] = float64(v) * 0x1p-31
		}
	}
	return 0, 0
}

func decodePCM32(dst [][]float64, at, frames int, src []byte) (first, bad int) {
	stride := 4 * len(dst)
	for c := range dst {
		out, in := dst[c][at:at+frames], src[4*c:]
		for i := range out {
			out[i] = float64(int32(binary.LittleEndian.Uint32(in[i*stride:]))) * 0x1p-31
		}
	}
	return 0, 0
}

func decodeFloat32(dst [][]float64, at, frames int, src []byte) (first, bad int) {
	stride := 4 * len(dst)
	for c := range dst {
		out, in := dst[c][at:at+frames], src[4*c:]
		for i := range out {
			out[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(in[i*stride:])))
		}
	}
	return replaceUnusable(dst, at, frames)
}

func decodeFloat64(dst [][]float64, at, frames int, src []byte) (first, bad int) {
	stride := 8 * len(dst)
	for c := range dst {
		out, in := dst[c][at:at+frames], src[8*c:]
		for i := range out {
			out[i] = math.Float64frombits(binary.LittleEndian.Uint64(in[i*stride:]))
		}
	}
	return replaceUnusable(dst, at, frames)
}

// maxMagnitude is the largest sample taken for audio, 240 dB above full scale.
// Its square and the sums of many such are far from overflow.
const maxMagnitude = 1e12

// replaceUnusable puts 0 for samples that would poison every later filter.
func replaceUnusable(dst [][]float64, at, frames int) (first, bad int) {
	first = frames
	for c := range dst {
		out := dst[c][at : at+frames]
		for i, x := range out {
			if x >= -maxMagnitude && x <= maxMagnitude {
				continue
			}
			out[i] = 0
			first = min(first, i)
			bad++
		}
	}
	return first, bad
}

// unusable accumulates what replaceUnusable found.
type unusable struct {
	first, count int64
}

func (u *unusable) add(frame int64, bad int) {
	if bad == 0 {
		return
	}
	if u.count == 0 { // SeekFrame never goes back behind the first without a reset
		u.first = frame
	}
	u.count += int64(bad)
}

func (u *unusable) warning() []string {
	if u.count == 0 {
		return nil
	}
	return []string{fmt.Sprintf("frame %d: the first of %d samples replaced by 0, being not a number or beyond ±%g", u.first, u.count, maxMagnitude)}
}
