package hearing

import "math"

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
