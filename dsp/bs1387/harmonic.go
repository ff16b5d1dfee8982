package bs1387

import (
	"math"

	"quietcross/dsp/transform"
)

// Error harmonic structure: the logarithmic difference of the two spectra is
// correlated with itself along frequency; a peak in the spectrum of that correlation
// tells a regular pattern of products.

// Sizes of the error harmonic structure, BS.1387, 4.8: 256 lines are correlated
// at 256 lags, the largest power of two within half the lines up to 18 kHz.
const (
	lagCount = 256

	// quietEnergy is the energy of a frame's second half below which the frame
	// has no say: 8000 for 16-bit samples.
	quietEnergy = 8000.0 / (32768 * 32768)

	// minimumLine keeps the logarithm of an empty line finite.
	minimumLine = 1e-6

	// minimumShift is the part of the energy below which a running sum of squares
	// is rounding error.
	minimumShift = 1e-12
)

// harmonics measures whether the difference between two spectra repeats along
// frequency, as the products of a distorted harmonic sound do.
type harmonics struct {
	long, short *transform.Real
	difference  [2 * lagCount]float64
	padded      [2 * lagCount]float64
	coeff, half [lagCount + 1]complex128
	power       [lagCount/2 + 1]float64
	window      [lagCount]float64
}

func newHarmonics() *harmonics {
	h := &harmonics{long: transform.New(2 * lagCount), short: transform.New(lagCount)}
	for n := range h.window {
		h.window[n] = math.Sqrt(8.0/3) / lagCount * 0.5 * (1 - math.Cos(2*math.Pi*float64(n)/(lagCount-1)))
	}
	return h
}

// peak returns the strongest period found in the logarithmic difference of two
// spectra, 0 where they do not differ.
func (h *harmonics) peak(ref, test *[lineCount]float64) float64 {
	for i := range h.difference {
		h.difference[i] = 2 * math.Log(max(test[i], minimumLine)/max(ref[i], minimumLine))
	}
	correlation := h.padded[:lagCount]
	if !h.correlate(correlation) {
		return 0
	}
	mean := 0.0
	for _, c := range correlation {
		mean += c / lagCount
	}
	for n := range correlation {
		correlation[n] = (correlation[n] - mean) * h.window[n]
	}
	power := h.power[:]
	h.short.Powers(power, correlation, 1)
	return peakAfterValley(power)
}

// correlate writes to dst, for each lag, the cosine of the angle between the
// first lagCount differences and as many from the lag on. It reports false where
// the spectra are equal. A transform of twice lagCount wraps around only at lags
// that are not asked for.
func (h *harmonics) correlate(dst []float64) bool {
	h.long.Forward(h.coeff[:], h.difference[:])
	copy(h.padded[:], h.difference[:lagCount])
	clear(h.padded[lagCount:])
	h.long.Forward(h.half[:], h.padded[:])
	for i, c := range h.half {
		h.coeff[i] *= complex(real(c), -imag(c))
	}
	h.long.Inverse(h.padded[:], h.coeff[:])
	own := sumOfSquares(h.difference[:lagCount])
	if own == 0 {
		return false
	}
	shifted := own
	for lag := range dst {
		raw := h.padded[lag] // dst may be the same
		dst[lag] = 0
		if shifted > own*minimumShift {
			dst[lag] = raw / math.Sqrt(own*shifted)
		}
		old, next := h.difference[lag], h.difference[lag+lagCount]
		shifted += next*next - old*old
	}
	return true
}

// peakAfterValley returns the largest squared magnitude after the first valley
// of a spectrum's.
func peakAfterValley(power []float64) float64 {
	largest, last, past := 0.0, math.Inf(1), false
	for _, p := range power {
		past = past || p > last
		if past {
			largest = max(largest, p)
		}
		last = p
	}
	return largest
}
