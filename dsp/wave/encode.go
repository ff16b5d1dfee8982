package wave

import (
	"encoding/binary"
	"math"

	"github.com/go-audio/audio"
)

// packInts stores the integers of buf, which fit in its bit depth, in dst.
func packInts(dst []byte, buf *audio.IntBuffer) {
	switch buf.SourceBitDepth {
	case 8:
		for i, v := range buf.Data {
			dst[i] = byte(v + 128)
		}
	case 16:
		for i, v := range buf.Data {
			binary.LittleEndian.PutUint16(dst[2*i:], uint16(v))
		}
	case 24:
		last := len(buf.Data) - 1
		for i, v := range buf.Data[:max(last, 0)] { // the next one writes over a fourth byte
			binary.LittleEndian.PutUint32(dst[3*i:], uint32(v))
		}
		for _, v := range buf.Data[max(last, 0):] {
			b := dst[3*last : 3*last+3]
			b[0], b[1], b[2] = byte(v), byte(v>>8), byte(v>>16)
		}
	case 32:
		for i, v := range buf.Data {
			binary.LittleEndian.PutUint32(dst[4*i:], uint32(v))
		}
	}
}

// badSample is a sample that the file cannot hold.
type badSample struct {
	channel, frame int // frame within the block
	value          float64
}

// packFloat32 stores src in dst as interleaved binary32.
func packFloat32(dst []byte, src [][]float64) *badSample {
	stride := 4 * len(src)
	for c := range src {
		out := dst[4*c:]
		for i, x := range src[c] {
			if !(x >= -math.MaxFloat32 && x <= math.MaxFloat32) {
				return &badSample{channel: c, frame: i, value: x}
			}
			binary.LittleEndian.PutUint32(out[i*stride:], math.Float32bits(float32(x)))
		}
	}
	return nil
}

// packFloat64 stores src in dst as interleaved binary64.
func packFloat64(dst []byte, src [][]float64) *badSample {
	stride := 8 * len(src)
	for c := range src {
		out := dst[8*c:]
		for i, x := range src[c] {
			if !(x >= -math.MaxFloat64 && x <= math.MaxFloat64) {
				return &badSample{channel: c, frame: i, value: x}
			}
			binary.LittleEndian.PutUint64(out[i*stride:], math.Float64bits(x))
		}
	}
	return nil
}
