package signal

import (
	"math"
	"slices"

	"quietcross/dsp/level"
	"quietcross/dsp/resample"
)

// performance makes the planar samples of a piece at scoreRate, n frames at a
// level of its own, drawing its noises from seed.
type performance func(n int, seed uint64) [][]float64

// A piece's stated levels.
const (
	pieceLoudness level.DB = -23 // LUFS: EBU R 128
	piecePeak     level.DB = -1  // dBFS, not reached with most seeds
)

// record returns the generator of a piece: it performs, takes off what lies
// below hearing, fades the ends, applies the gain and converts to the rate asked
// for. The gain is fixed, so that no seed changes the level of a note; only if
// a seed's noise would pass the stated peak is all of it turned down.
func record(gain level.DB, perform performance) generator {
	return func(m Material, rate int, seed uint64) [][]float64 {
		x := perform(m.frames(scoreRate), seed)
		for _, c := range x {
			rumble := highPass(25, math.Sqrt2/2)
			fadeEnds(rumble.run(c), 0.05, scoreRate)
		}
		headroom := piecePeak - level.FromAmplitude(peak(x))
		scale(x, (min(gain, headroom) + m.Peak - piecePeak).Amplitude())
		for i, c := range x {
			x[i] = convert(c, rate, m.frames(rate))
		}
		return x
	}
}

// peak returns the maximum magnitude in any channel.
func peak(x [][]float64) float64 {
	var p float64
	for _, c := range x {
		p = max(p, slices.Max(c), -slices.Min(c))
	}
	return p
}

func scale(x [][]float64, gain float64) {
	for _, c := range x {
		for i := range c {
			c[i] *= gain
		}
	}
}

// curve is a line through points of increasing time, drawn by hand: flat before
// the first point and after the last, and smooth (half a cosine) between.
type curve []point

type point struct{ at, value float64 } // seconds, any unit

// value returns the curve at time t in seconds.
func (c curve) value(t float64) float64 {
	if t <= c[0].at {
		return c[0].value
	}
	for i, p := range c[1:] {
		if t < p.at {
			from := c[i]
			return from.value + (p.value-from.value)*raisedCosine((t-from.at)/(p.at-from.at))
		}
	}
	return c[len(c)-1].value
}

// decibels returns 10^(db/20) for a curve drawn in decibels.
func decibels(db float64) float64 { return math.Exp(db * (math.Ln10 / 20)) }

// seconds returns the time of a frame at scoreRate.
func seconds(frame int) float64 { return float64(frame) / scoreRate }

// frame returns the frame at scoreRate nearest to time t.
func frame(t float64) int { return int(math.Round(t * scoreRate)) }

// scoreRate is the rate in hertz at which programme material is performed.
const scoreRate = 48000

// convert returns x, sampled at scoreRate, as frames samples at a legal rate.
// Sample n of the result stands at the same time n/rate as it would in x, without
// delay; before and after x is silence.
func convert(x []float64, rate, frames int) []float64 {
	if rate == scoreRate {
		return fit(x, frames)
	}
	converter, err := resample.NewConverter(scoreRate, rate)
	if err != nil {
		panic("signal: " + err.Error()) // Generate has checked the rate
	}
	return fit(converter.Flush(converter.Process(nil, x)), frames)
}

// fit returns x cut or filled with zeros to frames samples.
func fit(x []float64, frames int) []float64 {
	y := make([]float64, frames)
	copy(y, x)
	return y
}
