package bs1387

import (
	"math"
)

// The critical bands of the FFT-based ear model: 109 bands of a quarter Bark from
// 80 Hz to 18 kHz, and the grouping of spectral lines into them. A line counts as
// filling half a line spacing on either side of its frequency, and each band sums
// the parts that lie between its edges.

// Sizes of the FFT-based ear model, BS.1387 Annex 2, 2.1.2 and 2.1.5.
const (
	// Rate is the only sampling rate of the model, in hertz.
	Rate = 48000

	frameLength = 2048
	hop         = frameLength / 2
	lineCount   = frameLength/2 + 1
	bandCount   = 109

	lineSpacing = float64(Rate) / frameLength // Hz
	hopTime     = float64(hop) / Rate         // s

	bandLow   = 80.0    // Hz, lower edge of the first band
	bandHigh  = 18000.0 // Hz, upper edge of the last band
	bandWidth = 0.25    // Bark
)

// pattern holds one value for each band.
type pattern [bandCount]float64

// band is one critical-band filter: edges and centre in hertz.
type band struct{ low, centre, high float64 }

// bark maps frequency in hertz to critical-band rate (BS.1387, 2.1.5, after
// Schroeder): z = 7 asinh(f/650).
func bark(f float64) float64 { return 7 * math.Asinh(f/650) }

// hertz is the inverse of bark.
func hertz(z float64) float64 { return 650 * math.Sinh(z/7) }

// newBands lays bands of a quarter Bark from 80 Hz up; the last ends at 18 kHz
// and is narrower than the others (BS.1387, 2.1.5, table of bands). A centre is
// the middle of its band on the Bark scale.
func newBands() (bands [bandCount]band) {
	bottom, top := bark(bandLow), bark(bandHigh)
	for k := range bands {
		low := bottom + bandWidth*float64(k)
		high := min(low+bandWidth, top)
		bands[k] = band{hertz(low), hertz((low + high) / 2), hertz(high)}
	}
	return bands
}

// minimumEnergy is the floor of a band's energy, BS.1387, 2.1.5.
const minimumEnergy = 1e-12

// share says which lines belong to a band: every line from first to last, the
// first counted with weight head and the last with weight tail.
type share struct {
	first, last int
	head, tail  float64
}

// grouping sums spectral lines into bands. A line is taken to fill the interval
// of half a line spacing on either side of its frequency, and a band takes the
// part of each line that lies between its edges (BS.1387, 2.1.5).
type grouping [bandCount]share

func newGrouping(bands *[bandCount]band) (g grouping) {
	for k, b := range bands {
		first := int(math.Round(b.low / lineSpacing))
		last := int(math.Round(b.high / lineSpacing))
		g[k] = share{first, last, overlap(b, first), overlap(b, last)}
	}
	return g
}

// overlap returns the part of line i, 0 to 1, that lies inside b.
func overlap(b band, i int) float64 {
	low := max(b.low, (float64(i)-0.5)*lineSpacing)
	high := min(b.high, (float64(i)+0.5)*lineSpacing)
	return max(0, high-low) / lineSpacing
}

// sum writes the energy of each band to dst from the power of the lines.
func (g *grouping) sum(dst *pattern, power *[lineCount]float64) {
	for k := range g {
		s := &g[k]
		energy := s.head * power[s.first]
		if s.last > s.first {
			for _, p := range power[s.first+1 : s.last] {
				energy += p
			}
			energy += s.tail * power[s.last]
		}
		dst[k] = max(energy, minimumEnergy)
	}
}
