package measure

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/level"
	"quietcross/dsp/planar"
	"quietcross/dsp/spectrum"
	"quietcross/dsp/wave"
	"quietcross/dsp/weighting"
)

// Stream is an open recording. [*wave.Reader] is one.
type Stream interface {
	Format() wave.Format
	planar.Reader
}

// Bounds of what is kept in memory.
const (
	// excerptFrames is how much of each channel, from the start, the figures of a
	// test signal are taken from: 43 s at 48 kHz.
	excerptFrames = 1 << 21
	bandSize      = 1 << 14 // samples a transform for third octaves
)

// Run measures a stream from where it stands to its end, in bounded memory:
// levels, loudness and bands of all of it, the figures of a test signal from its
// first 2^21 frames. It returns an error when the stream cannot be read or holds
// no frame, and for options that are not legal.
func Run(s Stream, o Options) (*Report, error) {
	if _, _, err := o.kind(); err != nil {
		return nil, err
	}
	g := newGathering(s.Format())
	if err := g.read(s); err != nil {
		return nil, err
	}
	if g.frames == 0 {
		return nil, errors.New("measure: the recording holds no samples")
	}
	r := &Report{Rate: g.rate, Frames: g.frames, Figures: g.figures()}
	if g.frames > excerptFrames {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the figures of a test signal are from the first %.3g s", excerptFrames/g.rate))
	}
	for c := range g.channels {
		r.Channels = append(r.Channels, g.channel(c, o))
	}
	return r, nil
}

// gathering is what one pass over a stream collects.
type gathering struct {
	rate     float64
	frames   int64
	meter    *level.Meter
	channels []channelSums
}

// channelSums is what is collected of one channel.
type channelSums struct {
	sum, squares, peak float64
	bands              *spectrum.Average
	a, network         *weighting.Filter // A and 468
	squaresA           float64
	quasiPeak          *weighting.QuasiPeak
	work               []float64
	excerpt            []float64
	bad                int64 // frames that are not finite
}

func newGathering(f wave.Format) *gathering {
	g := &gathering{rate: float64(f.Rate), channels: make([]channelSums, f.Channels)}
	g.meter = level.NewMeter(g.rate, f.Channels)
	for c := range g.channels {
		g.channels[c] = channelSums{
			bands: spectrum.NewAverage(g.rate, bandSize, spectrum.Hann),
			a:     weighting.A(g.rate), network: weighting.Noise468(g.rate), quasiPeak: weighting.NewQuasiPeak(g.rate),
		}
	}
	return g
}

func (g *gathering) read(s Stream) error {
	return planar.Each(s, len(g.channels), func(block planar.Audio) error {
		for c, x := range block {
			g.channels[c].add(x)
		}
		g.frames += int64(block.Frames())
		g.meter.Add(block)
		return nil
	})
}

func (c *channelSums) add(x []float64) {
	for i, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			c.bad++
			x[i] = 0
			continue
		}
		c.sum += v
		c.squares += v * v
		c.peak = max(c.peak, math.Abs(v))
	}
	c.bands.Add(x)
	c.work = slices.Grow(c.work[:0], len(x))
	weighted := c.work[:len(x)]
	c.a.Process(weighted, x)
	for _, v := range weighted {
		c.squaresA += v * v
	}
	c.network.Process(weighted, x)
	c.quasiPeak.Add(weighted)
	c.excerpt = append(c.excerpt, x[:min(len(x), excerptFrames-len(c.excerpt))]...)
}

// figures returns those of all channels together.
func (g *gathering) figures() []Figure {
	figures := []Figure{
		{Key: "duration", Title: "duration", Value: float64(g.frames) / g.rate, Unit: Seconds, Definition: "frames over rate"},
		{
			Key: "true_peak", Title: "true peak", Value: g.meter.TruePeak().Amplitude(), Unit: FullScale,
			Definition: "ITU-R BS.1770-5, Annex 2: maximum of all channels, interpolated fourfold",
		},
	}
	if loudness, ok := g.meter.Integrated(); ok {
		figures = append(figures, Figure{
			Key: "loudness", Title: "integrated loudness", Value: float64(loudness), Unit: LUFS,
			Definition: "ITU-R BS.1770-5, Annex 1, gated",
		})
	}
	return figures
}
