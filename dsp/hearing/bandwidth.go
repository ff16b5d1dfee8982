package hearing

import "math"

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
