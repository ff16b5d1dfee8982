package weighting

import (
	"math"
	"math/cmplx"
)

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

// The quasi-peak detector: two peak rectifiers in cascade, each charging through
// one time constant (seconds) while it leaks through another. The four constants
// were fitted to the burst responses of ITU-R BS.468-4, tables 2 and 3; every
// burst then reads within a fifth of its tolerance.
const (
	charge1, leak1 = 1.515e-3, 0.289
	charge2, leak2 = 0.222, 0.364
	// steadySine is what the cascade settles to for a rectified sine of peak 1.
	steadySine = 0.5955
)

// QuasiPeak is the detector of ITU-R BS.468-4, calibrated to read the RMS value
// of a steady sine. Put [Noise468] before it for a weighted noise level.
type QuasiPeak struct {
	up1, down1, up2, down2 float64
	first, second, highest float64
}

// NewQuasiPeak returns a detector for a rate in hertz, [MinRate] to [MaxRate]; it
// panics outside.
func NewQuasiPeak(rate float64) *QuasiPeak {
	checkRate(rate)
	step := func(seconds float64) float64 { return -math.Expm1(-1 / (seconds * rate)) }
	return &QuasiPeak{up1: step(charge1), down1: step(leak1), up2: step(charge2), down2: step(leak2)}
}

// Add takes the next samples, any number.
func (q *QuasiPeak) Add(x []float64) {
	first, second := q.first, q.second
	for _, v := range x {
		first -= first * q.down1
		if r := math.Abs(v); r > first {
			first += (r - first) * q.up1
		}
		second -= second * q.down2
		if first > second {
			second += (first - second) * q.up2
		}
		q.highest = max(q.highest, second)
	}
	q.first, q.second = first, second
}

// Highest returns the highest reading so far, as the RMS value of a steady sine. A burst is read at the highest
// point, which follows its end by some 100 ms: add silence after it.
func (q *QuasiPeak) Highest() float64 { return q.highest * math.Sqrt2 / 2 / steadySine }
