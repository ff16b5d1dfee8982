package weighting

import "math/cmplx"

// network468 is the weighting network of ITU-R BS.468-4, figure 1: one zero at
// 0 Hz and six poles, in hertz. They are the roots of the network's polynomial as
// it is widely transcribed (from memory), which the test holds against table 1 of
// the recommendation. The gain makes 6.3 kHz, the one row without tolerance,
// +12.2 dB.
var network468 = newNetwork468()

func newNetwork468() network {
	n := network{gain: 1, pairs: []polePair{
		{complex(-4122.702066134763, 0), complex(-9975.06312393024, 0), 1},
		{complex(-3758.529163010742, 5790.042336608968), complex(-3758.529163010742, -5790.042336608968), 0},
		{complex(-2983.1599378906676, 9940.842645709537), complex(-2983.1599378906676, -9940.842645709537), 0},
	}}
	const at6300 = 4.073802778041128 // 12.2 dB
	n.gain = at6300 / cmplx.Abs(n.response(6300))
	return n
}

// Response468 returns the noise weighting of ITU-R BS.468-4 at a frequency in
// hertz as a ratio of amplitudes, 1 (within 0.02 dB) at 1 kHz.
func Response468(hertz float64) float64 { return cmplx.Abs(network468.response(hertz)) }

// Noise468 returns the weighting network of ITU-R BS.468-4 as a filter for a rate
// in hertz, [MinRate] to [MaxRate]; it panics outside. Up to 0.45 of the rate its
// gain is within 0.05 dB of [Response468].
func Noise468(rate float64) *Filter { return network468.digital(rate) }
