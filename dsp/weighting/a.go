package weighting

import (
	"math"
	"math/cmplx"
)

// networkA is the A weighting of IEC 61672-1, annex E: four zeros at 0 Hz, two
// poles each at f1 and f4, one each at f2 and f3, with gain 1 at 1 kHz.
var networkA = newNetworkA()

// newNetworkA derives the poles as annex E does: the C weighting is 3 dB down at
// 10^1.5 and 10^3.9 Hz re 1 kHz, and A adds a pair of coupled high-passes at
// 10^2.45 Hz.
func newNetworkA() network {
	const reference = 1000
	low, high, a := math.Pow(10, 1.5), math.Pow(10, 3.9), math.Pow(10, 2.45)
	d := math.Sqrt(0.5)
	c := low * low * high * high
	b := (reference*reference + c/(reference*reference) - d*(low*low+high*high)) / (1 - d)
	root := math.Sqrt(b*b - 4*c)
	f1, f4 := math.Sqrt((-b-root)/2), math.Sqrt((-b+root)/2)
	f2, f3 := (3-math.Sqrt(5))/2*a, (3+math.Sqrt(5))/2*a
	pole := func(f float64) complex128 { return complex(-f, 0) }
	n := network{gain: 1, pairs: []polePair{
		{pole(f1), pole(f1), 2},
		{pole(f2), pole(f3), 2},
		{pole(f4), pole(f4), 0},
	}}
	n.gain = 1 / cmplx.Abs(n.response(reference))
	return n
}

// ResponseA returns the A weighting of IEC 61672-1, annex E, at a frequency in
// hertz as a ratio of amplitudes, 1 at 1 kHz.
func ResponseA(hertz float64) float64 { return cmplx.Abs(networkA.response(hertz)) }

// A returns the A weighting as a filter for a rate in hertz, [MinRate] to
// [MaxRate]; it panics outside. Up to 20 kHz its gain is within 0.15 dB of
// [ResponseA] at 44.1 kHz, 0.08 dB at 48 kHz and less above; at lower rates it is
// within 0.25 dB up to 0.45 of the rate.
func A(rate float64) *Filter { return networkA.digital(rate) }
