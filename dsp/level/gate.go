package level

// Gates of ITU-R BS.1770-5 Annex 1: blocks at or below the absolute gate do not
// count, nor do those at or below the relative gate, set from the mean of the rest.
const (
	absoluteGate DB = -70
	relativeGate DB = -10
	blockSteps      = 4
)

// loudness returns LUFS of a K-weighted, channel-weighted mean square.
func loudness(power float64) DB { return -0.691 + FromPower(power) }

// gated returns the integrated loudness of a programme given as weighted mean
// squares of successive 100 ms steps, false when no block passes.
func gated(steps []float64) (DB, bool) {
	first, ok := meanAbove(steps, absoluteGate)
	if !ok {
		return 0, false
	}
	second, ok := meanAbove(steps, max(absoluteGate, loudness(first)+relativeGate))
	return loudness(second), ok
}

// meanAbove returns the mean power of the 400 ms blocks louder than gate.
func meanAbove(steps []float64, gate DB) (float64, bool) {
	sum, n := 0.0, 0
	for end := blockSteps; end <= len(steps); end++ {
		power := 0.0
		for _, s := range steps[end-blockSteps : end] {
			power += s / blockSteps
		}
		if loudness(power) > gate {
			sum += power
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / float64(n), true
}
