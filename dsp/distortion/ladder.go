package distortion

import (
	"math"

	"quietcross/dsp/level"
)

// Step is a stretch of a record over which its level stands still.
type Step struct {
	From, To int     // samples
	RMS      float64 // full scale 1
}

// stepBlock is the time resolution of the search for steps, in seconds.
const stepBlock = 0.05

// Steps returns the stretches of at least 0.2 s over which the level of x stays
// within 0.25 dB, in blocks of 50 ms, each less its first and last block, where it
// may still be moving. Silence (below -120 dB) is no step. Rate is in hertz.
func Steps(x []float64, rate float64) []Step {
	const within, minimum, quiet = 0.03, 6, 1e-6
	block := max(1, int(stepBlock*rate))
	var steps []Step
	first, reference := 0, 0.0
	for i := 0; ; i++ {
		now := -1.0 // past the end: ends any step
		if (i+1)*block <= len(x) {
			now = level.RMS(x[i*block : (i+1)*block])
		}
		if now >= 0 && i > first && math.Abs(now-reference) <= within*reference {
			continue
		}
		if i-first >= minimum && reference > quiet {
			s := Step{From: (first + 1) * block, To: (i - 1) * block}
			s.RMS = level.RMS(x[s.From:s.To])
			steps = append(steps, s)
		}
		if now < 0 {
			return steps
		}
		// The second block sets the reference: the first may hold the edge.
		if first, reference = i, now; (i+2)*block <= len(x) {
			reference = level.RMS(x[(i+1)*block : (i+2)*block])
		}
	}
}

// ladder returns the frequency of a record that is one tone at three or more
// levels.
func ladder(x []float64, rate float64) (hertz float64, ok bool) {
	const minimum, within, apart = 3, 1e-3, 0.06
	steps := Steps(x, rate)
	if len(steps) < minimum {
		return 0, false
	}
	levels := 0
	for i, s := range steps {
		peaks, total := findPeaks(coarse(x[s.From:s.To], rate, fitWindow))
		found, isTone := classify(peaks, total)
		if !isTone || found.Kind != SingleTone {
			return 0, false
		}
		if i == 0 {
			hertz = found.Tones[0]
		}
		if math.Abs(found.Tones[0]/hertz-1) > within {
			return 0, false
		}
		if i == 0 || math.Abs(s.RMS/steps[i-1].RMS-1) > apart {
			levels++
		}
	}
	return hertz, levels >= minimum
}
