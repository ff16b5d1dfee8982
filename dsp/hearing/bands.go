package hearing

import "math"

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
