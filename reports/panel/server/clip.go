package server

import (
	"cmp"
	"math/rand/v2"
	"net/http"
	"runtime"
	"slices"
	"strconv"
	"time"

	"quietcross/dsp/level"
)

// Rung is one rendering's conditions.
type Rung struct {
	Quiescent float64  // quiescent current, amperes
	Bias      float64  // bias, volts
	Residual  level.DB // residual relative to the reference
	Gain      level.DB // gain applied to match the level of the reference
	// Quiet is the level of a full-scale sine in dB SPL under which the residual lies
	// below the threshold in quiet; 0 when it is not known.
	Quiet level.DB
}

// Clips provides level-matched, aligned stimuli. Its methods are called from
// several goroutines at once; equal arguments must give equal samples.
type Clips interface {
	// Materials lists the names of the materials.
	Materials() []string
	// Stimulus returns a hash of all that makes a material's clips what they are.
	Stimulus(material string) (string, error)
	// Range returns the searchable quiescent currents of a material in
	// amperes. Between lo and hi the residual falls to one minimum value, the
	// optimum, and rises after it if hi lies beyond.
	Range(material string) (lo, hi float64)
	// Reference returns the ideal stage's output, indexed [channel][frame], full
	// scale 1, and its rate in hertz.
	Reference(material string) (rate int, audio [][]float64, err error)
	// Rendering returns the output at a quiescent current, aligned to the sample
	// with Reference and of equal length and loudness.
	Rendering(material string, quiescent float64) (audio [][]float64, conditions Rung, err error)
}

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
	plain, block := make([]float32, min(blockFrames, frames)), make([]byte, blockFrames*bytesPerSample)
	for channel := range channels {
		for from := 0; from < frames; from += blockFrames {
			plain = plain[:min(blockFrames, frames-from)]
			s.encoding <- struct{}{}
			err := clip.read(plain, channel, from)
			if err == nil {
				block = quantise(block, plain, gain, dither)
			}
			<-s.encoding
			if err != nil {
				return // short of its length, which the page notices
			}
			control.SetWriteDeadline(time.Now().Add(stall)) // without support the connection's own holds
			if _, err := w.Write(block); err != nil {
				return // the listener has gone; the trial stays open
			}
		}
		plain = plain[:min(blockFrames, frames)]
	}
}

// encoders is how many blocks of clips are made at once: a processor is left for
// answers, which are short and for which a listener waits.
func encoders() int { return max(1, runtime.GOMAXPROCS(0)-1) }

// quantise returns the samples under a gain as 24-bit integers, in dst when it has room.
func quantise(dst []byte, samples []float32, gain float64, dither *rand.PCG) []byte {
	const lift = 2 * fullScale // all positive, so that cutting off the fraction rounds down
	gain *= fullScale
	dst = slices.Grow(dst[:0], bytesPerSample*len(samples))[:bytesPerSample*len(samples)]
	for i, x := range samples {
		// The difference of two uniform numbers from one draw of 64 bits.
		u := dither.Uint64()
		d := float64(int64(u>>32)-int64(u&0xffffffff)) * (1. / (1 << 32))
		y := min(max(gain*float64(x)+(d+0.5), -fullScale), fullScale-1)
		v := int32(y+lift) - lift
		b := dst[bytesPerSample*i:][:bytesPerSample]
		b[0], b[1], b[2] = byte(v), byte(v>>8), byte(v>>16)
	}
	return dst
}

func newDither(seed uint64) *rand.PCG { return rand.NewPCG(seed, 1) }
