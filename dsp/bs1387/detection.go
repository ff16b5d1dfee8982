package bs1387

import "math"

// Detection: the difference of the excitation levels over the just noticeable step
// in each band gives a probability, bands are independent chances, the better ear
// counts, and the running average over frames is the detection.

// Constants of the detection probability, BS.1387, 4.7.
const (
	louderWeight = 0.3 // weight of the louder signal in the level L

	probabilityMemory = 0.9 // forgetting of the filtered probability in a hop
	noStep            = 1e30
)

// Probability of detection: the difference of the levels of each band against the step
// that is just noticeable there, over bands, ears and time. Beside it its course, kept in
// bounded memory.

// stepSize returns the just noticeable difference of level, in dB, at an
// excitation level in dB (BS.1387, 4.7). At or below 0 dB nothing is noticed.
func stepSize(l float64) float64 {
	if l <= 0 {
		return noStep
	}
	fall := 5.95072 * math.Exp(1.71332*math.Log(6.39468/l))
	return fall + (((9.01033e-11*l+5.05622e-6)*l-0.00102438)*l+0.0550197)*l - 0.198719
}

// detect compares the levels of one channel in every band. It raises doubt[k] to
// (e/s)^b, so that the chance of missing the difference in the band is
// 0.5^doubt, and steps[k] to the whole decibels of difference over the step
// size; both keep the larger over the channels (BS.1387, 4.7).
func detect(doubt, steps *pattern, ref, test *sensation) {
	for k, r := range ref.level {
		r /= decibel
		t := test.level[k] / decibel
		e := r - t
		s := stepSize(louderWeight*max(r, t) + (1-louderWeight)*t)
		x := e / s
		x *= x
		if e > 0 {
			x *= x // the fourth power
		} else {
			x *= x * x // the sixth
		}
		doubt[k] = max(doubt[k], x)
		steps[k] = max(steps[k], math.Abs(math.Trunc(e))/s)
	}
}

// binaural returns the probability that a frame's difference is heard in any
// band and the total of the steps above threshold.
func binaural(doubt, steps *pattern) (probability, total float64) {
	exponent := 0.0
	for k, x := range doubt {
		exponent += x
		total += steps[k]
	}
	return -math.Expm1(-exponent * math.Ln2), total
}

// detector gathers frames into MFPDB and ADBB, BS.1387, 4.7.
type detector struct {
	filtered, maximum float64
	heard             int     // frames with a probability above one half
	steps             float64 // their steps above threshold
}

// add takes the next frame.
func (d *detector) add(probability, steps float64) {
	d.filtered = probabilityMemory*d.filtered + (1-probabilityMemory)*probability
	d.maximum = max(d.maximum, d.filtered)
	if probability > 0.5 {
		d.heard++
		d.steps += steps
	}
}

// averageBlock returns ADBB: 0 if no frame is heard, else the logarithm of the
// mean steps above threshold of those that are, or -0.5 if they have none.
func (d *detector) averageBlock() float64 {
	switch {
	case d.heard == 0:
		return 0
	case d.steps > 0:
		return math.Log10(d.steps / float64(d.heard))
	}
	return -0.5
}
