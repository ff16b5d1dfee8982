package audibility

import (
	"math"
	"slices"

	"quietcross/dsp/bs1387"
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
	// Worst is the moment of the maximum probability, or, where nothing is
	// heard, of the maximum noise-to-mask ratio, s.
	Worst float64 `json:"worst_s"`
	// From and To bound the excerpt to listen to, s: around First, or around
	// Worst where nothing is heard.
	From float64 `json:"from_s"`
	To   float64 `json:"to_s"`
}

// Locate reads the course of a comparison: where the filtered probability exceeds
// limit, and the excerpt of the given length in seconds to listen to.
func Locate(r *bs1387.Result, limit, length float64) When {
	w := When{Passage: Nowhere}
	heard := 0
	var worst bs1387.Moment
	for i, m := range r.Series.Moments {
		if m.Filtered > limit {
			if heard == 0 {
				w.First = m.Time
			}
			heard++
		}
		if i == 0 || m.Filtered > worst.Filtered || m.Filtered == worst.Filtered && m.NoiseToMask > worst.NoiseToMask {
			worst = m
		}
	}
	w.Worst = worst.Time
	centre := w.Worst
	if heard > 0 {
		w.Part = float64(heard) / float64(len(r.Series.Moments))
		w.Passage = passage(r.Series.Moments, limit)
		centre = w.First
	}
	w.From, w.To = excerpt(centre, length, r.Duration())
	return w
}

// passage tells apart where the moments heard lie. There is at least one.
func passage(moments []bs1387.Moment, limit float64) Passage {
	loudest, first := moments[0].Reference, math.Inf(1)
	for _, m := range moments {
		loudest = max(loudest, m.Reference)
		if m.Filtered > limit {
			first = min(first, m.Time)
		}
	}
	followed := false // by something loud
	quiet := FadingTail
	for _, m := range slices.Backward(moments) {
		loud := m.Reference >= loudest-quietUnder
		followed = followed || loud
		switch {
		case m.Filtered <= limit:
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
