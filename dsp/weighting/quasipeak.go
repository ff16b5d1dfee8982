package weighting

import "math"

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
