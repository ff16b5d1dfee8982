package render

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
)

// Match says how the level of a rendering is brought to that of its reference,
// so that the louder file does not win a listening comparison.
type Match string

// The ways of matching.
const (
	// MatchLoudness makes integrated loudness after ITU-R BS.1770 equal.
	MatchLoudness Match = "loudness"
	// MatchGain takes out the gain that fits the reference best in the
	// least-squares sense.
	MatchGain Match = "gain"
	// MatchOff leaves the stage's own level.
	MatchOff Match = "off"
)

// ParseMatch reads the name of a way of matching.
func ParseMatch(name string) (Match, error) {
	switch m := Match(name); m {
	case MatchLoudness, MatchGain, MatchOff:
		return m, nil
	}
	return "", fmt.Errorf("match: found %q, legal are loudness, gain and off", name)
}

// maximumMatch bounds the matching gain: a rung that lets next to nothing
// through is not blown up to full level.
const maximumMatch level.DB = 60

// matchGain returns the gain that matches branch b to the reference, and a
// warning when it is not what was asked for.
func matchGain(m Match, b, reference *branch) (level.DB, string) {
	var gain level.DB
	var warning string
	switch m {
	case MatchOff:
		return 0, ""
	case MatchLoudness:
		var ok bool
		if gain, ok = loudnessGain(b.meter, reference.meter); ok {
			break
		}
		warning = "loudness could not be measured above the -70 LUFS gate: matched by best-fitting gain instead"
		fallthrough
	case MatchGain:
		gain = -level.FromAmplitude(math.Abs(b.fit.gain()))
	}
	if !(gain <= maximumMatch) {
		return 0, fmt.Sprintf("next to nothing passes (matching would take over %v dB): left unmatched", float64(maximumMatch))
	}
	return gain, warning
}

// loudnessGain returns the gain that gives b the loudness of the reference, false
// when one of them has none. The gate lets other blocks pass after the gain than
// before it, so the gain is found by going on from what the last one left.
func loudnessGain(b, reference *level.Loudness) (level.DB, bool) {
	const rounds, enough = 20, 1e-4
	want, ok := reference.Integrated()
	if !ok {
		return 0, false
	}
	gain := level.DB(0)
	for range rounds {
		have, ok := b.IntegratedAt(gain)
		if !ok {
			return 0, false
		}
		step := want - have
		gain += step
		if math.Abs(float64(step)) < enough {
			break
		}
	}
	return gain, true
}

// matchFactor returns what a matched output is multiplied by: the matching gain,
// and the polarity turned back where the stage inverts, so that output and
// reference can be told apart by distortion alone.
func matchFactor(m Match, fitted float64, gain level.DB) float64 {
	if m != MatchOff && fitted < 0 {
		return -gain.Amplitude()
	}
	return gain.Amplitude()
}

// fullScale is the peak to which matched tracks are held.
const fullScale level.DB = -0.1

// loudWarning says that tracks whose level was left alone peak above full scale.
func loudWarning(peak level.DB) string {
	return fmt.Sprintf("levels are not matched and peak at %+.1f dBFS, beyond full scale: turn the volume down before you play such a file; it can harm hearing and loudspeakers", float64(peak))
}

// trim returns the gain that keeps the loudest of the peaks within full scale,
// 0 dB when none is above it. It is applied to every track of an item alike,
// which leaves a comparison fair where clipping would not.
func trim(peaks []level.DB) level.DB {
	var gain level.DB
	for _, peak := range peaks {
		gain = min(gain, fullScale-peak)
	}
	return gain
}
