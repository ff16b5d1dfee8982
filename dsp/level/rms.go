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
	// Two comparisons that are seldom true cost less than a magnitude each.
	lowest, highest := 0.0, 0.0
	for _, v := range x {
		if v > highest {
			highest = v
		}
		if v < lowest {
			lowest = v
		}
	}
	return max(highest, -lowest)
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
