package audibility

import (
	"fmt"
	"strconv"

	"quietcross/dsp/hearing"
	"quietcross/stage/quantity"
)

// conditions says what a prediction holds for. Every verdict carries it.
func conditions(heard hearing.Conditions) string {
	return "for " + heard.String() + "; a blind test is the judge"
}

// Verdict puts into words where a difference is predicted to be heard under the
// conditions. It never says "inaudible".
func (w When) Verdict(heard hearing.Conditions) string {
	var text string
	switch w.Passage {
	case Nowhere:
		text = "not predicted audible"
	case FadingTail:
		text = "predicted audible only in the fading tail, from " + seconds(w.First)
	case QuietPassages:
		text = "predicted audible only in quiet passages, first at " + seconds(w.First)
	case FirstSecond:
		text = "predicted audible within the first second, at " + seconds(w.First)
	default:
		text = "predicted audible, first at " + seconds(w.First)
	}
	return text + "; " + conditions(heard)
}

// summary puts a finding's threshold into words.
func (f *Finding) summary() string {
	what := fmt.Sprintf("%s at %s dB: ", f.Material, figure(float64(f.Level)))
	if len(f.Curve) == 0 {
		return what + "no rendering, so no prediction"
	}
	first, last := f.Curve[0], f.Curve[len(f.Curve)-1]
	span := fmt.Sprintf(" from %s to %s quiescent", amperes(first.Quiescent), amperes(last.Quiescent))
	switch {
	case len(f.Crossings) == 0 && first.Detection > f.Limit:
		what += "predicted audible at every current tried" + span
	case len(f.Crossings) == 0:
		what += "not predicted audible at any current tried" + span
	case len(f.Crossings) == 1 && f.Crossings[0].Rising:
		what += "predicted audible above " + f.Crossings[0].words() + " and not below"
	case len(f.Crossings) == 1:
		what += "predicted audible below " + f.Threshold.words() + " and not above"
	default:
		what += "predicted audible in more than one range of current:"
		for i, c := range f.Crossings {
			if i > 0 {
				what += ","
			}
			what += " " + map[bool]string{false: "no longer above ", true: "again above "}[c.Rising] + c.words()
		}
		what += "; threshold " + f.Threshold.words()
	}
	return what + "; " + conditions(f.Heard)
}

// words writes a threshold, between which currents it is to be expected, and its bias.
func (t *Threshold) words() string {
	if t.Low == 0 {
		return t.Crossing.words()
	}
	low, high := "none", amperes(t.Interval.High)
	if t.Interval.Low > 0 {
		low = amperes(t.Interval.Low)
	}
	if t.Interval.Open {
		high = "beyond " + high
	}
	return fmt.Sprintf("%s (expected from %s to %s; bias %s V)", amperes(t.Quiescent), low, high, figure(t.Bias))
}

// words writes a crossing's current and, where known, its bias.
func (c *Crossing) words() string {
	if c.Low == 0 {
		return "a current between none and " + amperes(c.High)
	}
	return fmt.Sprintf("%s (bias %s V)", amperes(c.Quiescent), figure(c.Bias))
}

// half is the detection of ITU-R BS.1387 that is looked for beside a threshold.
const half = 0.5

// beside says where the detection of ITU-R BS.1387 falls under one half, where that is
// not at the threshold.
func (f *Finding) beside() string {
	if f.Threshold == nil {
		return ""
	}
	var last *Point
	for i := range f.Curve {
		p := &f.Curve[i]
		switch {
		case p.Standard == nil:
			continue
		case p.Standard.Detection > half:
			last = p
			continue
		case last == nil:
			return "By the detection of ITU-R BS.1387, which is no masked threshold, nothing is heard even without bias."
		case f.Threshold.Quiescent >= last.Quiescent && f.Threshold.Quiescent <= p.Quiescent:
			return ""
		}
		return fmt.Sprintf("By the detection of ITU-R BS.1387, which is no masked threshold, it would be between %s and %s.", amperes(last.Quiescent), amperes(p.Quiescent))
	}
	return "By the detection of ITU-R BS.1387, which is no masked threshold, it would be heard at every current tried."
}

// amperes writes a current with an SI prefix and three figures.
func amperes(i float64) string { return quantity.Format(round(i), quantity.Ampere) }

// round keeps three significant figures.
func round(x float64) float64 {
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		return x
	}
	return short
}

func figure(x float64) string { return strconv.FormatFloat(round(x), 'f', -1, 64) }

func seconds(t float64) string { return strconv.FormatFloat(t, 'f', 1, 64) + " s" }
