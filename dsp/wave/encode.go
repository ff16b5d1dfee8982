package wave

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/go-audio/audio"
)

// packInts stores the integers of buf, which fit in its bit depth, in dst and
// returns the bytes used.
func packInts(dst []byte, buf *audio.IntBuffer) []byte {
	width := buf.SourceBitDepth / 8
	dst = dst[:len(buf.Data)*width]
	switch width {
	case 1:
		for i, v := range buf.Data {
			dst[i] = byte(v + 128)
		}
	case 2:
		for i, v := range buf.Data {
			binary.LittleEndian.PutUint16(dst[2*i:], uint16(v))
		}
	case 3:
		for i, v := range buf.Data {
			b := dst[3*i : 3*i+3]
			b[0], b[1], b[2] = byte(v), byte(v>>8), byte(v>>16)
		}
	case 4:
		for i, v := range buf.Data {
			binary.LittleEndian.PutUint32(dst[4*i:], uint32(v))
		}
	}
	return dst
}

// packFloats stores frames [from:to) of src in dst as floats of the given bits
// and returns the bytes used.
func packFloats(dst []byte, src [][]float64, from, to, bits int) ([]byte, error) {
	width := bits / 8
	stride := width * len(src)
	dst = dst[:(to-from)*stride]
	most := math.MaxFloat64
	if bits == 32 {
		most = math.MaxFloat32
	}
	for c := range src {
		out := dst[c*width:]
		for i, x := range src[c][from:to] {
			if !(x >= -most && x <= most) {
				return nil, fmt.Errorf("channel %d, frame %d of the block: sample is %v; legal: finite in %d bits", c, i, x, bits)
			}
			if bits == 32 {
				binary.LittleEndian.PutUint32(out[i*stride:], math.Float32bits(float32(x)))
			} else {
				binary.LittleEndian.PutUint64(out[i*stride:], math.Float64bits(x))
			}
		}
	}
	return dst, nil
}
