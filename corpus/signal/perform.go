package signal

import (
	"math"
	"slices"

	"quietcross/dsp/level"
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
