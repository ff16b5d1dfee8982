package server

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
)

// A residual under the threshold in quiet, or under the clips' own dither, is heard by
// nobody whatever the stage does. For every rung the playback level is worked out at
// which its residual just meets the threshold in quiet: in that third octave and that
// half second in which it comes nearest to it. Between the rungs it is interpolated. A
// result with a prediction has the detection model's own floor instead, which knows the
// room's noise too.

// quietPlayback returns the level of a full-scale sine in dB SPL under which the
// residual of a rendering lies below the threshold in quiet. The residual is what is
// left when the best-fitting gain is taken out.
func quietPlayback(reference *sound, audio [][]float64, rate int) level.DB {
	size := 1 << (bits.Len(uint(min(reference.frames(), rate/2))) - 1) // up to half a second
	bands := spectrum.ThirdOctaves(63, min(16000, 0.4*float64(rate)))
	threshold := make([]level.DB, len(bands))
	for i, b := range bands {
		threshold[i] = hearing.QuietThreshold(b.Mid)
	}
	quiet := math.Inf(1)
	residual := make([]float64, size)
	for c, channel := range audio {
		ref := reference.samples[c]
		gain := fit(ref, channel)
		for from := 0; from+size <= len(channel); from += size {
			for i := range residual {
				residual[i] = channel[from+i] - gain*float64(ref[from+i])
			}
			for i, l := range spectrum.Of(residual, float64(rate), spectrum.Hann).BandLevels(bands) {
				quiet = min(quiet, float64(threshold[i]-l))
			}
		}
	}
	return level.DB(min(quiet, 300))
}

// fit is the gain with which ref lies nearest to x.
func fit(ref []float32, x []float64) float64 {
	cross, own := 0.0, 0.0
	for i, r := range ref {
		cross += float64(r) * x[i]
		own += float64(r) * float64(r)
	}
	if own == 0 {
		return 0
	}
	return cross / own
}

// Floor is the residual in decibels under which nothing can be heard, and why.
type Floor struct {
	Residual float64
	Why      string
}

// newFloor works out the floor of a material: the higher of the two, nil when both lie
// under all that can be played or are not known.
func newFloor(rungs []Rung, v *Session) *Floor {
	f := Floor{Residual: math.Inf(-1)}
	if v.Dither != nil {
		f = Floor{float64(*v.Dither), "the dither of the clips"}
	}
	if v.Playback != nil {
		if at := quietResidual(rungs, *v.Playback); at > f.Residual {
			f = Floor{at, "the threshold in quiet, with a full-scale sine at " + fixed(0, float64(*v.Playback)) + " dB SPL"}
		}
	}
	if f.Residual < v.Lo {
		return nil
	}
	return &f
}

// predictedFloor is the higher of a floor without the threshold in quiet, nil for none,
// and that of the detection model, which knows the room; nil when both lie under lo.
func predictedFloor(f *Floor, p *Prediction, lo float64) *Floor {
	if p.Floor < lo || f != nil && f.Residual >= p.Floor {
		return f
	}
	return &Floor{p.Floor, fmt.Sprintf("the threshold of the residual alone in a room of NR %s, with a full-scale sine at %s dB SPL", fixed(0, p.Heard.RoomNR), fixed(0, float64(p.Heard.Playback)))}
}

// quietResidual is the residual at which the rungs meet the threshold in quiet at a
// playback level, -Inf when all lie above it.
func quietResidual(rungs []Rung, playback level.DB) float64 {
	known := slices.DeleteFunc(slices.Clone(rungs), func(r Rung) bool { return r.Quiet == 0 })
	slices.SortFunc(known, func(a, b Rung) int { return cmp.Compare(b.Residual, a.Residual) })
	for i, r := range known {
		if r.Quiet < playback {
			continue
		}
		if i == 0 {
			return float64(r.Residual)
		}
		above := known[i-1]
		share := float64(playback-above.Quiet) / float64(r.Quiet-above.Quiet)
		return float64(above.Residual) + share*float64(r.Residual-above.Residual)
	}
	return math.Inf(-1)
}
