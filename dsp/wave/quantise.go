package wave

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/go-audio/audio"
)

// quantiser reduces planar floats to interleaved integers with triangular
// dither of ±1 LSB, one independent generator a channel. A channel draws once
// a sample in the order of its frames, so that the result does not depend on
// how the signal is cut into blocks.
type quantiser struct {
	draws   []*rand.ChaCha8 // nil without dither
	bits    int             // of signal
	shift   int             // from signal to container
	clipped int64
	out     audio.IntBuffer
}

func newQuantiser(f Format, o Options) *quantiser {
	q := &quantiser{bits: f.ValidBits, shift: f.Bits - f.ValidBits}
	q.out.Format = &audio.Format{NumChannels: f.Channels, SampleRate: f.Rate}
	q.out.SourceBitDepth = f.Bits
	q.out.Data = make([]int, 0, blockBytes/f.frameBytes()*f.Channels)
	if o.NoDither {
		return q
	}
	for c := range f.Channels {
		seed := [32]byte([]byte("TPDF dither: seed and channel..."))
		binary.LittleEndian.PutUint64(seed[0:], o.Seed)
		binary.LittleEndian.PutUint64(seed[8:], uint64(c))
		q.draws = append(q.draws, rand.NewChaCha8(seed))
	}
	return q
}

// block quantises frames [from:to) of src into q.out.
func (q *quantiser) block(src [][]float64, from, to int) error {
	q.out.Data = q.out.Data[:(to-from)*len(src)]
	for c := range src {
		var err error
		if q.draws == nil {
			err = q.round(q.out.Data[c:], src[c][from:to], len(src))
		} else {
			err = q.dither(q.out.Data[c:], src[c][from:to], len(src), q.draws[c])
		}
		if err != nil {
			return fmt.Errorf("channel %d, %w", c, err)
		}
	}
	return nil
}

// dither adds the difference of two uniform variates of one LSB, which is
// triangular between -1 and +1 LSB, and rounds. The error is then white, of
// variance LSB²/4, and its mean and variance do not depend on the signal
// (Lipshitz, Wannamaker and Vanderkooy, JAES 40(5), 1992).
func (q *quantiser) dither(out []int, src []float64, stride int, draw *rand.ChaCha8) error {
	scale := math.Ldexp(1, q.bits-1)
	hi, lo := scale-1, -scale
	for i, x := range src {
		u := draw.Uint64()
		d := float64(int64(u>>32)-int64(u&math.MaxUint32)) * 0x1p-32
		v := math.RoundToEven(x*scale + d)
		if !(v >= lo && v <= hi) {
			var err error
			if v, err = q.clip(v, lo, hi, i); err != nil {
				return err
			}
		}
		out[i*stride] = int(v) << q.shift
	}
	return nil
}

// round is dither without dither.
func (q *quantiser) round(out []int, src []float64, stride int) error {
	scale := math.Ldexp(1, q.bits-1)
	hi, lo := scale-1, -scale
	for i, x := range src {
		v := math.RoundToEven(x * scale)
		if !(v >= lo && v <= hi) {
			var err error
			if v, err = q.clip(v, lo, hi, i); err != nil {
				return err
			}
		}
		out[i*stride] = int(v) << q.shift
	}
	return nil
}

// clip counts and limits v; what is not finite is no signal to be clipped.
func (q *quantiser) clip(v, lo, hi float64, frame int) (float64, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("frame %d of the block: sample is %v; legal: finite numbers", frame, v)
	}
	q.clipped++
	return max(lo, min(hi, v)), nil
}
