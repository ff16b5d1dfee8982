package bs1387

import (
	"math"

	"quietcross/dsp/level"
)

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

// add takes the next frame and returns the filtered probability.
func (d *detector) add(probability, steps float64) float64 {
	d.filtered = probabilityMemory*d.filtered + (1-probabilityMemory)*probability
	d.maximum = max(d.maximum, d.filtered)
	if probability > 0.5 {
		d.heard++
		d.steps += steps
	}
	return d.filtered
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

// The course over time, bounded: the maxima of successive frames, halved in
// resolution whenever the limit is reached.

// Moment is what the model says of one stretch of time.
type Moment struct {
	// Time is the middle of the stretch's first frame, in seconds.
	Time float64 `json:"time_s"`
	// Probability is the probability that a difference is heard in this frame
	// alone, 0 to 1.
	Probability float64 `json:"probability"`
	// Filtered is the probability smoothed over about ten frames (0.2 s), the
	// one whose maximum value is [Result.Detection].
	Filtered float64 `json:"filtered"`
	// NoiseToMask is the ratio of the error to the masked threshold, averaged
	// over the bands, in the worst channel. Above 0 dB it exceeds the mask.
	NoiseToMask level.DB `json:"noise_to_mask_db"`
	// Reference is the level of the reference in the frame's second half, in the
	// louder channel, dB SPL without weighting; not below 0.
	Reference level.DB `json:"reference_db_spl"`
	// Steps is the sum over the bands of whole decibels of difference over the
	// just noticeable step.
	Steps float64 `json:"steps"`
}

// Series is the course of a comparison over time.
type Series struct {
	// Hop is the time from one moment to the next, in seconds: 1024/48000, or
	// that times a power of two.
	Hop float64 `json:"hop_s"`
	// Moments holds the maximum value of each quantity in each stretch.
	Moments []Moment `json:"moments"`
}

// seriesLimit is the maximum number of moments kept, 11 minutes at full
// resolution. A longer series is halved by joining neighbours, so that an hour
// is kept at 0.17 s and takes the memory of eleven minutes.
const seriesLimit = 1 << 15

// recorder builds a bounded series.
type recorder struct {
	moments []Moment
	span    int // frames in a moment
	filled  int // frames in the last moment
}

func (r *recorder) add(m Moment) {
	if r.filled > 0 && r.filled < r.span {
		last := &r.moments[len(r.moments)-1]
		*last = greater(*last, m)
		r.filled++
		return
	}
	if len(r.moments) == seriesLimit {
		r.halve()
	}
	r.moments = append(r.moments, m)
	r.span = max(1, r.span)
	r.filled = 1
}

// halve joins neighbours. It is called between moments only.
func (r *recorder) halve() {
	for i := range len(r.moments) / 2 {
		r.moments[i] = greater(r.moments[2*i], r.moments[2*i+1])
	}
	r.moments = r.moments[:len(r.moments)/2]
	r.span *= 2
}

// series returns a copy of what was recorded.
func (r *recorder) series() Series {
	moments := make([]Moment, len(r.moments))
	copy(moments, r.moments)
	return Series{Hop: hopTime * float64(max(1, r.span)), Moments: moments}
}

// greater joins two moments: the earlier time and the greater of each value.
func greater(a, b Moment) Moment {
	return Moment{
		Time:        a.Time,
		Probability: max(a.Probability, b.Probability),
		Filtered:    max(a.Filtered, b.Filtered),
		NoiseToMask: max(a.NoiseToMask, b.NoiseToMask),
		Reference:   max(a.Reference, b.Reference),
		Steps:       max(a.Steps, b.Steps),
	}
}
