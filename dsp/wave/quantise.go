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
}

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
	out, stride := q.out.Data[c:], len(q.noise)
	scale, lsb, shift := math.Ldexp(1, q.bits-1), q.lsb, q.shift
	hi, lo := scale-1, -scale
	noise := q.noise[c]
	for i, x := range src {
		v := math.RoundToEven(x*scale + lsb*noise.next())
		if !(v >= lo && v <= hi) {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return &badSample{channel: c, frame: i, value: x}
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

// mix is the generator's output function, a bijection.
func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}
