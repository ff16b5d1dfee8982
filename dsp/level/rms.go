package level

import "math"

// RMS returns the root of the mean square of x, DC included: 1/√2 for a full
// scale sine. An empty x gives 0.
func RMS(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// Peak returns the maximum magnitude among the samples of x, 0 for none. It is
// the sample peak; the waveform between the samples can be higher, see
// [Meter.TruePeak]. A NaN counts as nothing.
func Peak(x []float64) float64 {
	// Magnitudes stand in the order of their bits, doubled to lose the sign, with every NaN
	// above infinity. Integers have a maximum without a branch.
	var best uint64
	for _, v := range x {
		best = max(best, math.Float64bits(v)<<1)
	}
	if peak := math.Float64frombits(best >> 1); !math.IsNaN(peak) {
		return peak
	}
	peak := 0.0
	for _, v := range x {
		if v = math.Abs(v); v > peak {
			peak = v
		}
	}
	return peak
}

// Mean returns the mean of x, its DC component, 0 for an empty x.
func Mean(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
