package signal

import (
	"math"
	"slices"
)

// performance makes the planar samples of a piece at scoreRate, n frames at any
// level, drawing its noises from seed.
type performance func(n int, seed uint64) [][]float64

// record returns the generator of a piece: it performs, takes off what lies
// below hearing, fades the ends, sets the peak and converts to the rate asked
// for. All channels keep their balance.
func record(perform performance) generator {
	return func(m Material, rate int, seed uint64) [][]float64 {
		x := perform(m.frames(scoreRate), seed)
		for _, c := range x {
			rumble := highPass(25, math.Sqrt2/2)
			fadeEnds(rumble.run(c), 0.05, scoreRate)
		}
		scale(x, m.Peak.Amplitude()/peak(x))
		for i, c := range x {
			x[i] = convert(c, rate, m.frames(rate))
		}
		return x
	}
}

// peak returns the greatest magnitude in any channel.
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
