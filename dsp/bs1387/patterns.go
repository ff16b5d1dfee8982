package bs1387

import (
	"math"
)

// Processing of excitation patterns: what a listener adapts to (a slow difference of
// level and of spectral balance) is taken out of both signals, and the speed of the
// envelope in each band becomes a modulation depth.

// Bands below and above a band over which pattern corrections are averaged,
// BS.1387, 3.1.2 (a window of 8 bands in the FFT-based model).
const (
	averageBelow = 3
	averageAbove = 4
)

// adaptation takes out of a pair of excitation patterns what a listener adapts
// to: a slowly changing difference in level (BS.1387, 3.1.1) and in spectral
// balance (3.1.2).
type adaptation struct {
	ref, test      pattern // low-passed excitations
	cross, own     pattern // running products of the level-corrected excitations
	partRef        pattern // momentary corrections
	partTest       pattern
	balRef         pattern // smoothed corrections
	balTest        pattern
	levRef, levTst pattern // level-corrected excitations
}

// apply writes the adapted excitations of the reference and the test.
func (a *adaptation) apply(dstRef, dstTest *pattern, decay, ref, test *pattern) {
	gain := a.levelCorrection(decay, ref, test)
	toRef, toTest := 1.0, gain
	if gain > 1 {
		toRef, toTest = 1/gain, 1
	}
	for k := range ref {
		a.levRef[k], a.levTst[k] = ref[k]*toRef, test[k]*toTest
	}
	a.momentary(decay)
	a.smooth(decay)
	for k := range ref {
		dstRef[k] = a.levRef[k] * a.balRef[k]
		dstTest[k] = a.levTst[k] * a.balTest[k]
	}
}

// levelCorrection follows both patterns and returns the ratio of energies by
// which the test must be multiplied to reach the reference.
func (a *adaptation) levelCorrection(decay, ref, test *pattern) float64 {
	num, den := 0.0, 0.0
	for k := range ref {
		r := follow(&a.ref, k, decay[k], ref[k])
		t := follow(&a.test, k, decay[k], test[k])
		num += math.Sqrt(r * t)
		den += t
	}
	return (num / den) * (num / den)
}

// momentary finds in each band the correction of the reference or of the test,
// whichever reduces the larger of the two. Internal noise keeps every
// excitation above zero, so that the standard's rules for empty bands never act.
func (a *adaptation) momentary(decay *pattern) {
	for k := range a.cross {
		r, t := a.levRef[k], a.levTst[k]
		a.cross[k] = decay[k]*a.cross[k] + t*r
		a.own[k] = decay[k]*a.own[k] + r*r
		a.partRef[k], a.partTest[k] = 1, a.own[k]/a.cross[k]
		if a.cross[k] < a.own[k] {
			a.partRef[k], a.partTest[k] = a.cross[k]/a.own[k], 1
		}
	}
}

// smooth averages the corrections over neighbouring bands and over time.
func (a *adaptation) smooth(decay *pattern) {
	for k := range a.balRef {
		first, last := max(0, k-averageBelow), min(bandCount-1, k+averageAbove)
		ref, test := 0.0, 0.0
		for i := first; i <= last; i++ {
			ref += a.partRef[i]
			test += a.partTest[i]
		}
		n := float64(last - first + 1)
		follow(&a.balRef, k, decay[k], ref/n)
		follow(&a.balTest, k, decay[k], test/n)
	}
}

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
