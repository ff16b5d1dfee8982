package bs1387

import (
	"math"
)

// Loudness: the total of an excitation pattern after Zwicker and Feldtkeller, and the
// partly masked loudness of what the test has more than the reference.

// loudness is the total loudness of an excitation pattern in sone after Zwicker
// and Feldtkeller, BS.1387, 3.3.
type loudness struct {
	factor   pattern // 1.07664 (threshold/(s 10⁴))^0.23
	slope    pattern // s/threshold
	constant pattern // 1 - s
}

const specific = 0.23 // exponent of specific loudness

func newLoudness(bands *[bandCount]band) *loudness {
	l := new(loudness)
	for k, b := range bands {
		quiet := quietThreshold(b.centre).Power()
		s := thresholdIndex(b.centre)
		l.factor[k] = 1.07664 * math.Pow(quiet/(s*1e4), specific)
		l.slope[k] = s / quiet
		l.constant[k] = 1 - s
	}
	return l
}

// thresholdIndex is the index s(f) of BS.1387, 3.3, as a ratio of energies:
// -2 - 2.05 atan(f/4 kHz) - 0.75 atan((f/1.6 kHz)²) dB.
func thresholdIndex(f float64) float64 {
	kilo := f / 1000
	db := -2 - 2.05*math.Atan(kilo/4) - 0.75*math.Atan(kilo*kilo/(1.6*1.6))
	return math.Exp(db * decibel)
}

// total returns the loudness of an excitation pattern in sone.
func (l *loudness) total(excitation *pattern) float64 {
	sum := 0.0
	for k, e := range excitation {
		grown := math.Exp(specific * math.Log(l.constant[k]+l.slope[k]*e))
		sum += max(0, l.factor[k]*(grown-1))
	}
	return sum * 24 / bandCount
}

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
