package audibility

import (
	"math"

	"quietcross/dsp/hearing"
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

// quietRatio is the energy of a quiet moment re the loudest, 20 dB.
const quietRatio = 0.01

// When says at which moments a difference is predicted to be heard.
type When struct {
	Passage Passage `json:"passage"`
	// First is the first such moment, s from the start, and Part the part of
	// all moments, 0 to 1.
	First float64 `json:"first_s"`
	Part  float64 `json:"part"`
	// Worst is the moment of the greatest probability, or, where nothing is
	// heard, of the greatest noise-to-mask ratio, s.
	Worst float64 `json:"worst_s"`
	// From and To bound the excerpt to listen to, s: around First, or around
	// Worst where nothing is heard.
	From float64 `json:"from_s"`
	To   float64 `json:"to_s"`
}

// contour knows how loud the reference is at each moment.
type contour struct {
	reference [][]float64
	channels  int
	frames    int
}

func newContour(reference [][]float64) contour {
	c := contour{reference: reference, channels: len(reference)}
	if c.channels > 0 {
		c.frames = len(reference[0])
	}
	return c
}

// duration is the length of the piece, s.
func (c *contour) duration() float64 { return float64(c.frames) / hearing.Rate }

// energies returns the energy of the reference in the stretch of each moment.
func (c *contour) energies(s *hearing.Series) []float64 {
	const half = 1024 // samples on either side of a frame's middle
	energies := make([]float64, len(s.Moments))
	for i, m := range s.Moments {
		middle := int(math.Round(m.Time * hearing.Rate))
		from := max(0, middle-half)
		to := min(c.frames, middle+int(math.Round(s.Hop*hearing.Rate)))
		for _, x := range c.reference {
			for _, v := range x[from:to] {
				energies[i] += v * v
			}
		}
	}
	return energies
}

// when reads the course of a comparison.
func (c *contour) when(s *hearing.Series, o Options) When {
	w := When{Passage: Nowhere}
	heard := 0
	var worst hearing.Moment
	for i, m := range s.Moments {
		if m.Filtered > o.Limit {
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
		w.Part = float64(heard) / float64(len(s.Moments))
		w.Passage = c.passage(s, o.Limit, w.First)
		centre = w.First
	}
	w.From, w.To = excerpt(centre, o.Excerpt, c.duration())
	return w
}

// passage tells apart where the moments heard lie.
func (c *contour) passage(s *hearing.Series, limit, first float64) Passage {
	energies := c.energies(s)
	loudest := 0.0
	for _, e := range energies {
		loudest = max(loudest, e)
	}
	inLoud, inTail := false, false
	for i := len(energies) - 1; i >= 0; i-- {
		loud := energies[i] >= quietRatio*loudest
		heard := s.Moments[i].Filtered > limit
		inLoud = inLoud || loud
		switch {
		case heard && loud && first < 1:
			return FirstSecond
		case heard && loud:
			return Later
		case heard && inLoud:
			inTail = true // quiet, but followed by something loud
		}
	}
	if inTail {
		return QuietPassages
	}
	return FadingTail
}

// excerpt returns length seconds, a quarter of them before the moment, moved to
// lie within the piece.
func excerpt(moment, length, duration float64) (from, to float64) {
	from = max(0, min(moment-length/4, duration-length))
	return from, min(duration, from+length)
}
