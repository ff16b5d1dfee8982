package wave

import (
	"math"

	"github.com/go-audio/audio"
)

// quantiser reduces planar floats to interleaved integers with triangular
// dither of ±1 LSB, one independent generator a channel. A channel draws once
// a sample in the order of its frames, so that the result does not depend on
// how the signal is cut into blocks.
type quantiser struct {
	noise   []dither // one a channel
	lsb     float64  // of dither: 1, or 0 without
	bits    int      // of signal
	shift   int      // from signal to container
	clipped int64
	out     audio.IntBuffer
	vectors [quantised]int64 // scratch
}

// quantised is how many samples vector instructions quantise at a time.
const quantised = 256

func newQuantiser(f Format, o Options) *quantiser {
	q := &quantiser{lsb: 1, bits: f.ValidBits, shift: f.Bits - f.ValidBits}
	if o.NoDither {
		q.lsb = 0
	}
	for c := range f.Channels {
		q.noise = append(q.noise, newDither(o.Seed, c))
	}
	q.out.Format = &audio.Format{NumChannels: f.Channels, SampleRate: f.Rate}
	q.out.SourceBitDepth = f.Bits
	q.out.Data = make([]int, blockSamples)
	return q
}

// block quantises src, at most blockSamples in all, into q.out.
func (q *quantiser) block(src [][]float64) *badSample {
	q.out.Data = q.out.Data[:len(src[0])*len(src)]
	for c := range src {
		if bad := q.channel(c, src[c]); bad != nil {
			return bad
		}
	}
	return nil
}

// channel adds dither and rounds. The dither is the difference of two uniform
// variates of one LSB. The error is then of mean 0 and variance LSB²/4, both
// independent of the signal (Lipshitz, Wannamaker and Vanderkooy, JAES 40(5),
// 1992).
func (q *quantiser) channel(c int, src []float64) *badSample {
	for from := 0; from < len(src); from += quantised {
		part := src[from:min(from+quantised, len(src))]
		done := q.fast(c, from, part)
		if bad := q.plain(c, from+done, part[done:]); bad != nil {
			return bad
		}
	}
	return nil
}

// fast quantises as much of a part of a channel, which begins at a frame, as vector
// instructions can, and returns how many samples that was: none where one is out of range.
func (q *quantiser) fast(c, frame int, src []float64) int {
	scale := math.Ldexp(1, q.bits-1)
	n := ditherVectors(&q.vectors, src, uint64(q.noise[c]), scale, q.lsb)
	if n == 0 {
		return 0
	}
	q.noise[c] += dither(uint64(n) * goldenGamma)
	stride := len(q.noise)
	out := q.out.Data[c+frame*stride:]
	for i, v := range q.vectors[:n] {
		out[i*stride] = int(v) << q.shift
	}
	return n
}

// plain quantises samples of a channel that begin at a frame: what fast agrees with to the
// bit.
func (q *quantiser) plain(c, frame int, src []float64) *badSample {
	if len(src) == 0 {
		return nil
	}
	stride := len(q.noise)
	out := q.out.Data[c+frame*stride:]
	scale, lsb, shift := math.Ldexp(1, q.bits-1), q.lsb, q.shift
	hi, lo := scale-1, -scale
	noise := q.noise[c]
	for i, x := range src {
		v := math.RoundToEven(x*scale + lsb*noise.next())
		if !(v >= lo && v <= hi) {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return &badSample{channel: c, frame: frame + i, value: x}
			}
			v = max(lo, min(hi, v))
			q.clipped++
		}
		out[i*stride] = int(v) << shift
	}
	q.noise[c] = noise
	return nil
}

// dither is a source of triangular noise: the SplitMix64 generator of Steele,
// Lea and Flood ("Fast splittable pseudorandom number generators", OOPSLA
// 2014), whose halves serve as the two uniform variates of a sample.
type dither uint64

// newDither starts the noise of one channel. Seed and channel both go through
// the generator's mixing function, so that neighbouring seeds or channels begin
// at unrelated places of its sequence of 2^64.
func newDither(seed uint64, channel int) dither {
	return dither(mix(mix(seed+goldenGamma) + uint64(channel+1)*goldenGamma))
}

// next returns a variate between -1 and +1 with triangular density: the
// difference of two uniform ones, each on a grid of 2^-32.
func (d *dither) next() float64 {
	*d += goldenGamma
	u := mix(uint64(*d))
	return float64(int64(u>>32)-int64(u&math.MaxUint32)) * 0x1p-32
}

// goldenGamma is 2^64 divided by the golden ratio, made odd.
const goldenGamma = 0x9E3779B97F4A7C15

// The multipliers of mix.
const (
	mixFirst  = 0xBF58476D1CE4E5B9
	mixSecond = 0x94D049BB133111EB
)

// mix is the generator's output function, a bijection.
func mix(z uint64) uint64 {
	z = (z ^ z>>30) * mixFirst
	z = (z ^ z>>27) * mixSecond
	return z ^ z>>31
}
