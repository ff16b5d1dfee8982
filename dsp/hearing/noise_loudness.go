package hearing

import "math"

// Constants of the noise loudness RmsNoiseLoudB, BS.1387, 4.3.
const (
	maskingAlpha  = 1.5
	thresholdRise = 0.15
	thresholdBase = 0.5
)

// noiseLoudness returns the loudness, in sone, of what the adapted test has
// more than the adapted reference, partly masked by the reference.
func (m *model) noiseLoudness(adaptedRef, adaptedTest *pattern, ref, test *sensation) float64 {
	sum := 0.0
	for k, r := range adaptedRef {
		t := adaptedTest[k]
		partRef := (thresholdRise*ref.depth[k] + thresholdBase) * r
		sTest := thresholdRise*test.depth[k] + thresholdBase
		excess := sTest*t - partRef
		if excess <= 0 {
			continue
		}
		masked := m.noise[k] + partRef*math.Exp(-maskingAlpha*(t-r)/r)
		grown := math.Exp(specific * math.Log1p(excess/masked))
		sum += math.Exp(specific*math.Log(m.noise[k]/sTest)) * (grown - 1)
	}
	return sum * 24 / bandCount
}
