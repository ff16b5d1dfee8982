package bs1387

import (
	"math"
)

// Three momentary output variables: how much the modulation of the bands differs,
// how the difference of the spectra stands to the masked threshold, and up to which
// line each signal reaches above the test's own noise.

// Constants of the modulation differences, BS.1387, 4.2, FFT-based model.
const (
	levelWeight = 100.0 // weight of the internal noise in a frame's weight

	offset1 = 1.0
	offset2 = 0.01
	falling = 0.1 // weight of a loss of modulation in the second difference
)

// internalLoudness is the simplified loudness of an energy, BS.1387, 3.2.
func internalLoudness(energy float64) float64 { return math.Pow(energy, loudnessPower) }

// modulationDifference returns the two momentary modulation differences of a
// frame in percent and the weight the frame has in a weighted average: near 1
// where the reference is loud, small where internal noise dominates.
func (m *model) modulationDifference(ref, test *sensation) (first, second, weight float64) {
	for k, r := range ref.depth {
		difference := test.depth[k] - r
		rise := math.Abs(difference)
		first += rise / (offset1 + r)
		if difference < 0 {
			rise *= falling
		}
		second += rise / (offset2 + r)
		weight += ref.mean[k] / (ref.mean[k] + m.quiet[k])
	}
	return first * 100 / bandCount, second * 100 / bandCount, weight
}

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

// Constants of the bandwidth search, BS.1387, 4.4.
const (
	firstNoiseLine   = 921 // 21.6 kHz: above it the test is taken to be noise
	minimumBandwidth = 346 // 8.1 kHz: frames with less are not averaged
	bandwidthRefOver = 10  // dB
	bandwidthTstOver = 5   // dB
)

var (
	refRatio  = math.Pow(10, bandwidthRefOver/20.)
	testRatio = math.Pow(10, bandwidthTstOver/20.)
)

// bandwidths returns how many lines of the reference and of the test stand above
// the noise that the test has near the top of the spectrum. The test is searched
// within the bandwidth of the reference only.
func bandwidths(ref, test *[lineCount]float64) (ofRef, ofTest int) {
	noise := 0.0
	for _, m := range test[firstNoiseLine:hop] {
		noise = max(noise, m)
	}
	ofRef = highest(ref[:firstNoiseLine], noise*refRatio)
	return ofRef, highest(test[:ofRef], noise*testRatio)
}

// highest returns one more than the index of the last line at or above minimum,
// or 0.
func highest(lines []float64, minimum float64) int {
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i] >= minimum {
			return i + 1
		}
	}
	return 0
}
