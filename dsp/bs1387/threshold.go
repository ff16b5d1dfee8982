package bs1387

import (
	"math"

	"quietcross/dsp/level"
)

// Four functions of frequency: the threshold in quiet, the part of it that outer and
// middle ear are given, the part given to internal noise, and the offset from
// excitation to masked threshold.

// AbsoluteThreshold returns the level in dB SPL at which a steady tone of
// frequency f (hertz, above 0) is just heard in quiet by a young listener:
//
//	3.64 F^-0.8 - 6.5 exp(-0.6 (F - 3.3)²) + 10^-3 F⁴, F in kHz
//
// Source: E. Terhardt, Calculating virtual pitch, Hearing Research 1 (1979).
func AbsoluteThreshold(f float64) level.DB {
	kilo := f / 1000
	canal := kilo - 3.3
	return level.DB(3.64*math.Pow(kilo, -0.8) - 6.5*math.Exp(-0.6*canal*canal) + 1e-3*math.Pow(kilo, 4))
}

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
