package measure

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"quietcross/dsp/distortion"
	"quietcross/dsp/spectrum"
)

// channel measures channel index of what was gathered.
func (g *gathering) channel(index int, o Options) Channel {
	sums := &g.channels[index]
	c := Channel{Index: index, To: len(sums.excerpt)}
	c.levels(sums, g.frames)
	if sums.bad > 0 {
		c.warn("%d samples are not finite numbers and were read as zero", sums.bad)
	}
	found, err := c.find(sums.excerpt, g.rate, o)
	if err != nil {
		c.warn("no figures of a test signal: %v", err)
	} else if err := c.measure(sums.excerpt, g.rate, found, o); err != nil {
		c.warn("no figures of a %s: %v", c.Kind, err)
	}
	c.clipping(sums.excerpt)
	c.bands(sums, g.rate)
	return c
}

// clipping warns of all that is clipped of x, in place of what is in the part that
// was measured; what that says beside its count stays.
func (c *Channel) clipping(x []float64) {
	part := distortion.Clipping(x[c.From:c.To]).String()
	note := ""
	c.Warnings = slices.DeleteFunc(c.Warnings, func(w string) bool {
		rest, same := strings.CutPrefix(w, part)
		if same {
			note = rest
		}
		return same
	})
	if clip := distortion.Clipping(x); clip.Samples > 0 {
		c.warn("%s%s", clip, note)
	}
}

func (c *Channel) warn(format string, a ...any) {
	c.Warnings = append(c.Warnings, fmt.Sprintf(format, a...))
}

func (c *Channel) add(f ...Figure) { c.Figures = append(c.Figures, f...) }

// levels adds what any recording has.
func (c *Channel) levels(s *channelSums, frames int64) {
	n := float64(frames)
	c.add(
		Figure{Key: "peak", Title: "sample peak", Value: s.peak, Unit: FullScale, Definition: "maximum magnitude of a sample"},
		Figure{Key: "rms", Title: "RMS", Value: math.Sqrt(s.squares / n), Unit: FullScale, Definition: "root mean square, DC included; a full-scale sine has -3.01 dB"},
		Figure{Key: "rms_a", Title: "A-weighted RMS", Value: math.Sqrt(s.squaresA / n), Unit: FullScale, Definition: "IEC 61672-1: root mean square through the A weighting"},
		Figure{Key: "quasi_peak_468", Title: "468-weighted, quasi-peak", Value: s.quasiPeak.Highest(), Unit: FullScale, Definition: "ITU-R BS.468-4: highest reading, as the RMS of a 1 kHz sine"},
		Figure{Key: "dc", Title: "DC", Value: s.sum / n, Unit: FullScale, Definition: "mean of all samples"},
		Figure{
			Key: "clipped", Title: "clipped samples", Value: float64(distortion.Clipping(s.excerpt).Samples), Unit: Count,
			Definition: "samples in flat tops: three or more equal samples at the extreme, entered or left abruptly",
		},
	)
}

// bands adds third octaves, 25 Hz to 20 kHz or what the rate holds.
func (c *Channel) bands(s *channelSums, rate float64) {
	average, ok := s.bands.Spectrum()
	if !ok {
		return // shorter than one transform
	}
	c.Bands = thirdOctaves(average, rate)
}

func thirdOctaves(s *spectrum.Spectrum, rate float64) []Band {
	var bands []Band
	octaves := spectrum.ThirdOctaves(25, min(20000, rate/2/1.13))
	for i, l := range s.BandLevels(octaves) {
		bands = append(bands, Band{Mid: octaves[i].Mid, Level: l})
	}
	return bands
}

// find sets the kind and the part to measure, and returns the signal.
func (c *Channel) find(x []float64, rate float64, o Options) (distortion.Signal, error) {
	kind, told, err := o.kind()
	if err != nil {
		return distortion.Signal{}, err
	}
	c.Kind, c.Told = distortion.Programme.String(), told
	found, err := distortion.Detect(x, rate)
	if err != nil {
		return found, err
	}
	if found.Kind != distortion.Ladder {
		c.From, c.To = distortion.SteadyPart(x, rate)
		if found, err = distortion.Detect(x[c.From:c.To], rate); err != nil {
			return found, err
		}
	}
	if told && kind != found.Kind {
		c.warn("told to be a %s, looks like %s", kind, found.Kind)
		found = distortion.Signal{Kind: kind}
	}
	if len(o.Tones) > 0 {
		found.Tones = slices.Sorted(slices.Values(o.Tones))
	}
	c.Kind = found.Kind.String()
	switch found.Kind {
	case distortion.Programme, distortion.Silence, distortion.Ladder:
		c.From, c.To = 0, len(x)
	}
	return found, nil
}

var errNeedTones = errors.New("measure: the tones were not found: give their frequencies")

// measure adds the figures of a kind.
func (c *Channel) measure(x []float64, rate float64, s distortion.Signal, o Options) error {
	x = x[c.From:c.To]
	switch s.Kind {
	case distortion.SingleTone:
		return c.tone(x, rate, s.Tones, o)
	case distortion.TwoTone, distortion.DifferenceTones:
		if len(s.Tones) != 2 {
			return errNeedTones
		}
		return c.twoTones(x, rate, s.Tones[0], s.Tones[1])
	case distortion.SquareAndTone:
		return c.squareAndTone(x, rate)
	case distortion.Multitone:
		if len(s.Tones) == 0 {
			return errNeedTones
		}
		return c.multitone(x, rate, s.Tones)
	case distortion.Ladder:
		return c.ladder(x, rate, s.Tones, o)
	case distortion.Silence:
		c.warn("nothing but silence or DC")
	}
	return nil
}
