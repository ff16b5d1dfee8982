package bs1387

import "quietcross/dsp/level"

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
