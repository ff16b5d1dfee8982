package bs1387

import (
	"math"

	"quietcross/dsp/level"
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

// Spreading over frequency: two exponential slopes on either side of a band, the
// upper one depending on level, added under an exponent of 0.4 and normalised.

// Spreading over frequency, BS.1387, 2.1.7.
const (
	lowerSlope    = 27.0 // dB/Bark towards lower bands
	upperSlope    = 24.0 // dB/Bark towards higher bands, and
	upperPerHertz = 230. // dB/Bark·Hz more, divided by the centre frequency, and
	upperPerLevel = 0.2  // dB/Bark less for each dB of level
	addition      = 0.4  // exponent under which spread energies add

	decibel = math.Ln10 / 10 // natural logarithm of one decibel of energy
)

// spreading smears the energy of each band over its neighbours. The pattern of
// one band falls by 27 dB/Bark downwards and by 24 + 230/f - 0.2 L dB/Bark
// upwards, is scaled so that its sum is the band's energy, and adds to the other
// patterns under an exponent of 0.4. The total is divided by what the same sum
// gives for 0 dB in every band.
type spreading struct {
	lower      float64 // factor of one band downwards, raised to addition
	lowerTotal pattern // sum of the downward branch, the band itself included
	upperZero  pattern // natural logarithm of the upward factor at 0 dB
	scale      pattern // one over the sum for 0 dB everywhere
}

func newSpreading(bands *[bandCount]band) *spreading {
	s := &spreading{lower: math.Exp(-addition * lowerSlope * bandWidth * decibel)}
	factor := math.Exp(-lowerSlope * bandWidth * decibel)
	for k, b := range bands {
		s.lowerTotal[k] = (1 - math.Pow(factor, float64(k+1))) / (1 - factor)
		s.upperZero[k] = -(upperSlope + upperPerHertz/b.centre) * bandWidth * decibel
		s.scale[k] = 1
	}
	var flat, sum pattern
	for k := range flat {
		flat[k] = 1
	}
	s.apply(&sum, &flat)
	for k, total := range sum {
		s.scale[k] = 1 / total
	}
	return s
}

// apply writes the spread pattern of energy to dst; the two may be the same.
func (s *spreading) apply(dst, energy *pattern) {
	var own, sum pattern
	for k, e := range energy {
		logE := math.Log(e)
		logUp := s.upperZero[k] + upperPerLevel*bandWidth*logE
		fifth := math.Exp(logUp / 5)
		up := fifth * fifth // raised to addition
		total := s.lowerTotal[k] + geometric(up*up*fifth, logUp, bandCount-k) - 1
		own[k] = math.Exp(addition * (logE - math.Log(total)))
		addGeometric(sum[k+1:], own[k], up)
	}
	down := 0.0
	for k := bandCount - 1; k >= 0; k-- {
		down = own[k] + s.lower*down
		x := sum[k] + down
		dst[k] = x * x * math.Sqrt(x) * s.scale[k] // x^(1/addition)
	}
}

// geometric returns 1 + r + … + r^(n-1) from r and its natural logarithm.
func geometric(r, logR float64, n int) float64 {
	if math.Abs(logR) < 1e-6 {
		return float64(n)
	}
	return (1 - math.Exp(float64(n)*logR)) / (1 - r)
}

// addGeometric adds x·r, x·r², … to dst, two at a time so that one product need
// not wait for the other.
func addGeometric(dst []float64, x, r float64) {
	odd, even, square := x*r, x*r*r, r*r
	for len(dst) >= 2 {
		dst[0] += odd
		dst[1] += even
		odd *= square
		even *= square
		dst = dst[2:]
	}
	if len(dst) > 0 {
		dst[0] += odd
	}
}

// Functions of frequency: the part of the threshold in quiet (Terhardt, Calculating
// virtual pitch, Hearing Research 1, 1979) that outer and middle ear are given, the part
// given to internal noise, and the offset from excitation to masked threshold.

// outerEar returns the gain of outer and middle ear at f, BS.1387, 2.1.4. Its
// last exponent is 3.6, not the 4 of Terhardt's threshold, so that above 7 kHz
// the model is more sensitive than the threshold formula.
func outerEar(f float64) level.DB {
	kilo := f / 1000
	canal := kilo - 3.3
	return level.DB(-0.6*3.64*math.Pow(kilo, -0.8) + 6.5*math.Exp(-0.6*canal*canal) - 1e-3*math.Pow(kilo, 3.6))
}

// internalNoise returns the level of the noise that blood flow and nerves add
// in a band centred at f, BS.1387, 2.1.6.
func internalNoise(f float64) level.DB {
	return level.DB(0.4 * 3.64 * math.Pow(f/1000, -0.8))
}

// quietThreshold is the excitation at threshold in quiet that the loudness
// formula uses, BS.1387, 3.3.
func quietThreshold(f float64) level.DB {
	return level.DB(3.64 * math.Pow(f/1000, -0.8))
}

// maskOffset returns how far the masked threshold lies below the excitation in
// band k: 3 dB up to 12 Bark above the first band, a quarter dB a Bark beyond
// (BS.1387, 2.1.9).
func maskOffset(k int) level.DB {
	z := float64(k) * bandWidth
	if z <= 12 {
		return 3
	}
	return level.DB(0.25 * z)
}
