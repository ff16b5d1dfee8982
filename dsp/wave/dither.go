package wave

import "math"

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
