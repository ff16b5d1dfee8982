package audibility

import (
	"math"
	"slices"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// Passage names where in a piece a difference is predicted to be heard.
type Passage string

// The passages, from nothing to everywhere.
const (
	Nowhere       Passage = "nowhere"
	FadingTail    Passage = "fading-tail"    // only after the last moment within 20 dB of the loudest
	QuietPassages Passage = "quiet-passages" // only in moments 20 dB or more under the loudest
	Later         Passage = "later"          // first after one second
	FirstSecond   Passage = "first-second"   // within the first second
)

// quietUnder is how far under the loudest moment a quiet one lies.
const quietUnder level.DB = 20

// When says at which moments a difference is predicted to be heard.
type When struct {
	Passage Passage `json:"passage"`
	// First is the first such moment, s from the start, and Part the part of
	// all moments, 0 to 1.
	First float64 `json:"first_s"`
	Part  float64 `json:"part"`
	// Worst is the first moment that is about as bad as the worst, s.
	Worst float64 `json:"worst_s"`
	// From and To bound the excerpt to listen to, s: around First, or around
	// Worst where nothing is heard.
	From float64 `json:"from_s"`
	To   float64 `json:"to_s"`
}

// Locate reads the course of a comparison: where the probability of noticing exceeds
// limit, above 0 and below 1, and the excerpt of the given length in seconds to listen
// to.
func Locate(r *hearing.Result, limit, length float64) When {
	w := When{Passage: Nowhere}
	threshold := hearing.Sensitivity(limit)
	heard := 0
	for _, m := range r.Course.Moments {
		if m.DPrime > threshold {
			heard++
		}
	}
	w.Worst = min(worst(r.Course.Moments, r.DPrime), r.Duration)
	centre := w.Worst
	if heard > 0 {
		w.Part = float64(heard) / float64(len(r.Course.Moments))
		w.Passage = passage(r.Course.Moments, threshold)
		w.First, _ = r.FirstHeard(threshold)
		centre = w.First
	}
	w.From, w.To = excerpt(centre, length, r.Duration)
	return w
}

// aboutAsBad is how near to the maximum a d' counts as equal to it: a steady difference is
// heard ever better until it ends.
const aboutAsBad level.DB = 0.5

// worst returns the time of the first moment that is about as bad as the worst, of d' most.
func worst(moments []hearing.Moment, most float64) float64 {
	for _, m := range moments {
		if m.DPrime >= most*(-aboutAsBad).Power() {
			return m.Time
		}
	}
	return 0
}

// passage tells apart where the moments heard lie. There is at least one.
func passage(moments []hearing.Moment, threshold float64) Passage {
	loudest, first := moments[0].Reference, math.Inf(1)
	for _, m := range moments {
		loudest = max(loudest, m.Reference)
		if m.DPrime > threshold {
			first = min(first, m.Time)
		}
	}
	followed := false // by something loud
	quiet := FadingTail
	for _, m := range slices.Backward(moments) {
		loud := m.Reference >= loudest-quietUnder
		followed = followed || loud
		switch {
		case m.DPrime <= threshold:
		case loud && first < 1:
			return FirstSecond
		case loud:
			return Later
		case followed:
			quiet = QuietPassages
		}
	}
	return quiet
}

// excerpt returns length seconds, a quarter of them before the moment, moved to
// lie within the piece.
func excerpt(moment, length, duration float64) (from, to float64) {
	from = max(0, min(moment-length/4, duration-length))
	return from, min(duration, from+length)
}
