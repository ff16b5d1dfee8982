package survey

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"

	"quietcross/dsp/level"
)

// Excerpts are chosen by the loudness of windows that slide over a recording by a tenth
// of a second:
//
//   - quiet: the window of an excerpt's length with the minimum loudness, among those
//     that are sustained: momentary loudness (0.4 seconds, EBU Tech 3341) is nowhere in it
//     silence (at or under -70 LUFS, the absolute gate of ITU-R BS.1770), and short-term
//     loudness (three seconds) does not change by 10 LU. Crossover distortion is plainest where the signal is small and nothing
//     masks it.
//   - fade: the end of the longest stretch over which short-term loudness falls by 10 LU
//     or more without rising by more than 1 LU on the way, and before it is silence. It
//     takes more than three seconds: in so many a window passes a sudden end.
//   - loud: one of the windows within 0.5 LU of the 95th percentile of loudness, drawn
//     by seed and recording: typical, and not the one moment at the top.
//
// A recording no longer than an excerpt is taken whole. An excerpt of which more than
// half lies in one chosen before is left out.

// Kind is the kind of an excerpt.
type Kind string

// The kinds of excerpt; KindWhole is that of a short recording and is not asked for.
const (
	KindQuiet Kind = "quiet"
	KindFade  Kind = "fade"
	KindLoud  Kind = "loud"
	KindWhole Kind = "whole"
)

// Kinds returns those that can be asked for, in their usual order.
func Kinds() []Kind { return []Kind{KindQuiet, KindFade, KindLoud} }

// Excerpt is a stretch of a recording and why it was chosen.
type Excerpt struct {
	Kind Kind `json:"kind"`
	// From and To bound it, s from the recording's beginning.
	From float64 `json:"from_s"`
	To   float64 `json:"to_s"`
	Why  string  `json:"why"`
}

const (
	silence level.DB = -70

	fadeFall level.DB = 10 // least fall of a fade, LU
	fadeRise level.DB = 1  // rise that ends a fade, LU

	loudQuantile          = 0.95
	loudWithin   level.DB = 0.5

	momentarySeconds = 0.4 // EBU Tech 3341

	hop    = 0.1 // between windows, s
	sudden = 30  // hops that a window of three seconds takes over a sudden end
)

// A chooser chooses the excerpts of one recording.
type chooser struct {
	length  float64
	seconds float64
	brief   []level.DB // momentary loudness
	short   []level.DB // short-term loudness
	long    []level.DB // loudness of windows of an excerpt's length
	random  *rand.Rand
}

// choose returns the excerpts of a recording, and in words which kinds it has not.
func choose(s *scanned, id string, o *Options) (excerpts []Excerpt, without []string) {
	if s.Seconds <= o.Length {
		return []Excerpt{{KindWhole, 0, s.Seconds, "the recording is no longer than an excerpt"}}, nil
	}
	c := &chooser{
		length: o.Length, seconds: s.Seconds,
		brief: s.meter.Sliding(momentarySeconds), short: s.meter.Sliding(level.ShortTermSeconds), long: s.meter.Sliding(o.Length),
		random: rand.New(rand.NewPCG(o.Seed, drawn("excerpt "+id))),
	}
	for _, kind := range o.Excerpts {
		e, reason := c.one(kind)
		if reason == "" {
			reason = overlaps(e, excerpts)
		}
		if reason != "" {
			without = append(without, fmt.Sprintf("%s: %s", kind, reason))
			continue
		}
		excerpts = append(excerpts, e)
	}
	return excerpts, without
}

// one chooses an excerpt of a kind, or says why there is none.
func (c *chooser) one(kind Kind) (Excerpt, string) {
	switch kind {
	case KindQuiet:
		return c.quiet()
	case KindFade:
		return c.fade()
	default:
		return c.loud()
	}
}

// overlaps names an excerpt in which more than half of e lies, "" if there is none.
func overlaps(e Excerpt, others []Excerpt) string {
	for _, other := range others {
		if min(e.To, other.To)-max(e.From, other.From) > (e.To-e.From)/2 {
			return fmt.Sprintf("more than half of it lies in the %s excerpt", other.Kind)
		}
	}
	return ""
}

// window is the excerpt that begins at a window of the course of loudness.
func (c *chooser) window(kind Kind, i int, why string) Excerpt {
	from := max(0, min(float64(i)*hop, c.seconds-c.length))
	return Excerpt{kind, from, min(from+c.length, c.seconds), why}
}

func (c *chooser) quiet() (Excerpt, string) {
	for _, rule := range []struct {
		what   string
		allows func(at int) bool
	}{
		{"the quietest sustained passage", c.sustained},
		{"no passage is sustained; the quietest without silence", c.sounding},
		{"every passage has silence in it; the quietest", func(at int) bool { return c.long[at] > silence }},
	} {
		best := -1
		for at, l := range c.long {
			if (best < 0 || l < c.long[best]) && rule.allows(at) {
				best = at
			}
		}
		if best >= 0 {
			return c.window(KindQuiet, best, fmt.Sprintf("%s, %.1f LUFS", rule.what, c.long[best])), ""
		}
	}
	return Excerpt{}, "no passage is louder than silence"
}

// sounding tells whether the window at a place has no silence in it.
func (c *chooser) sounding(at int) bool {
	return slices.Min(c.within(c.brief, momentarySeconds, at)) > silence
}

// sustained tells whether it stands about still as well.
func (c *chooser) sustained(at int) bool {
	short := c.within(c.short, level.ShortTermSeconds, at)
	return slices.Max(short)-slices.Min(short) < fadeFall && c.sounding(at)
}

// within are the shorter windows that lie in the window at a place.
func (c *chooser) within(windows []level.DB, seconds float64, at int) []level.DB {
	return windows[at:min(at+int(math.Round((c.length-seconds)/hop))+1, len(windows))]
}

func (c *chooser) fade() (Excerpt, string) {
	var from, to int // of the longest so far
	for start := 0; start < len(c.short); {
		end, next := c.falling(start)
		if c.short[start]-c.short[end] >= fadeFall && end-start > max(to-from, sudden) {
			from, to = start, end
		}
		start = next
	}
	if to == from {
		return Excerpt{}, fmt.Sprintf("no fade of %g LU", float64(fadeFall))
	}
	end := min(float64(to)*hop+level.ShortTermSeconds, c.seconds)
	why := fmt.Sprintf("the end of the longest fade, %.1f to %.1f s, from %.1f to %.1f LUFS", float64(from)*hop, end, c.short[from], c.short[to])
	return c.window(KindFade, int(math.Floor((end-c.length)/hop+1e-6)), why), ""
}

// falling follows short-term loudness down from a window: end is where it is lowest, and
// next where another fall can begin.
func (c *chooser) falling(start int) (end, next int) {
	end = start
	for i := start; i < len(c.short); i++ {
		l := c.short[i]
		switch {
		case l <= silence, l > c.short[end]+fadeRise, end == start && l > c.short[start]:
			return end, max(i, start+1)
		case l < c.short[end]:
			end = i
		}
	}
	return end, len(c.short)
}

func (c *chooser) loud() (Excerpt, string) {
	var heard []float64
	for _, l := range c.long {
		if l > silence {
			heard = append(heard, float64(l))
		}
	}
	if len(heard) == 0 {
		return Excerpt{}, "no passage is louder than silence"
	}
	slices.Sort(heard)
	typical := level.DB(stat.Quantile(loudQuantile, stat.Empirical, heard, nil))
	var near []int
	for i, l := range c.long {
		if l >= typical-loudWithin && l <= typical+loudWithin {
			near = append(near, i)
		}
	}
	i := near[c.random.IntN(len(near))]
	return c.window(KindLoud, i, fmt.Sprintf("a typical loud passage, %.1f LUFS, one of %d", c.long[i], len(near))), ""
}
