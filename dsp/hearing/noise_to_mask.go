package hearing

import "math"

// disturbed is the ratio of noise to mask above which a frame counts as
// disturbed: 1.5 dB, BS.1387, 4.6.
var disturbed = math.Pow(10, 0.15)

// noiseToMask returns the mean over the bands of the ratio of the difference
// between the outer-ear weighted spectra to the masked threshold of the
// reference, and the largest of these ratios (BS.1387, 3.4, 4.5 and 4.6).
// power is scratch.
func (m *model) noiseToMask(power *[lineCount]float64, ref, test *sensation) (mean, largest float64) {
	for i, r := range ref.lines {
		difference := r - test.lines[i]
		power[i] = difference * difference * m.outer[i]
	}
	var noise pattern
	m.grouping.sum(&noise, power)
	for k, n := range noise {
		ratio := n / (ref.excitation[k] * m.mask[k])
		mean += ratio
		largest = max(largest, ratio)
	}
	return mean / bandCount, largest
}
