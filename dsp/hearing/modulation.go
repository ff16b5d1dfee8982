package hearing

import "math"

// loudnessPower is the exponent of the simplified loudness whose envelope is
// watched for modulation, BS.1387, 3.2.
const loudnessPower = 0.3

// envelope follows the simplified loudness of each band and how fast it moves
// (BS.1387, 3.2). It looks at the excitation before smearing over time.
type envelope struct {
	last, slope, mean pattern
}

// add takes the next excitation, writes the modulation depth to depth and the
// running mean of the simplified loudness to mean. The first frame has no
// predecessor and is taken to follow silence, as in the Recommendation.
func (e *envelope) add(depth, mean *pattern, decay, excitation *pattern) {
	for k, x := range excitation {
		loud := math.Exp(loudnessPower * math.Log(x))
		slope := follow(&e.slope, k, decay[k], math.Abs(loud-e.last[k])/hopTime)
		mean[k] = follow(&e.mean, k, decay[k], loud)
		depth[k] = slope / (1 + mean[k]/0.3)
		e.last[k] = loud
	}
}
