package server

import (
	"cmp"
	"math"
	"math/rand/v2"
	"net/http"
	"strconv"
	"time"
)

// Clips travel as 24-bit two's complement little-endian samples without a
// header, one channel after the other. The page builds its buffers from them at
// the clips' own rate, which a decoder in the browser would not do.
const (
	bytesPerSample = 3
	fullScale      = 1 << 23
	blockFrames    = 16 << 10
)

// samples are a clip to be sent, from memory or from the spool.
type samples interface {
	size() (channels, frames int)
	read(dst []float32, channel, from int) error
}

// writeClip sends a clip under a gain with a dither of its own, triangular and two steps
// wide, so that equal sounds are never equal bytes. Every clip of a trial goes
// through the same work, whatever it holds. It never changes, so that a browser may keep
// it for the time of a trial: all alike, and for itself alone.
func (s *Server) writeClip(w http.ResponseWriter, clip samples, gain float64, seed uint64) {
	channels, frames := clip.size()
	h := w.Header()
	h.Set("Content-Type", "application/octet-stream")
	h.Set("Cache-Control", "private, max-age=3600, immutable")
	h.Set("Content-Length", strconv.Itoa(channels*frames*bytesPerSample))
	dither := newDither(seed)
	control := http.NewResponseController(w)
	stall := cmp.Or(s.config.StallTimeout, 30*time.Second)
	plain, block := make([]float32, min(blockFrames, frames)), make([]byte, 0, blockFrames*bytesPerSample)
	for channel := range channels {
		for from := 0; from < frames; from += blockFrames {
			plain = plain[:min(blockFrames, frames-from)]
			if err := clip.read(plain, channel, from); err != nil {
				return // short of its length, which the page notices
			}
			block = quantise(block[:0], plain, gain, dither)
			control.SetWriteDeadline(time.Now().Add(stall)) // without support the connection's own holds
			if _, err := w.Write(block); err != nil {
				return // the listener has gone; the trial stays open
			}
		}
		plain = plain[:min(blockFrames, frames)]
	}
}

// quantise appends the samples under a gain as 24-bit integers.
func quantise(dst []byte, samples []float32, gain float64, dither *rand.PCG) []byte {
	gain *= fullScale
	for _, x := range samples {
		// The difference of two uniform numbers from one draw of 64 bits.
		u := dither.Uint64()
		d := (float64(u>>32) - float64(u&0xffffffff)) / (1 << 32)
		v := int32(min(max(math.Floor(gain*float64(x)+d+0.5), -fullScale), fullScale-1))
		dst = append(dst, byte(v), byte(v>>8), byte(v>>16))
	}
	return dst
}

func newDither(seed uint64) *rand.PCG { return rand.NewPCG(seed, 1) }
