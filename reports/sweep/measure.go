package sweep

import (
	"math"

	"quietcross/dsp/shape"
	"quietcross/dsp/weighting"
)

// Measure computes one point: what a law makes of tones of a peak in volts, with
// no bias, power or clipping filled in.
func Measure(law *shape.Law, peak float64) Point { return newSampler(law).point(peak, nil) }

// WeightedTHD returns the harmonics to order 20 through the network of ITU-R
// BS.468-4, re the fundamental of that many hertz (IEC 60268-3, 14.12, which
// defines it for 31.5 to 400 Hz).
func (p *Point) WeightedTHD(fundamental float64) float64 {
	sum := 0.0
	for i, h := range p.Harmonics {
		weighted := h * weighting.Response468(float64(i+2)*fundamental)
		sum += weighted * weighted
	}
	return math.Sqrt(sum)
}
