package hearing

import "quietcross/dsp/level"

// The model's constants in one place. Those marked "fitted" were found by
// TestFitConstants from the published thresholds in README.md, those of the filters' slopes
// and beat then moved by hand until the conditions nearest their bars lay inside; the rest
// are taken from the sources named.

// ModelVersion names the model and its constants. It changes whenever a predicted
// threshold can change, so that a listener's efficiency is not carried over to
// another model unnoticed.
const ModelVersion = "2026-11-28"

// ThresholdError is the root mean square difference, dB, between the model's masked
// thresholds and the published ones of README.md. TestTable holds it to what it finds.
const ThresholdError level.DB = 2.41

// Interval returns the values of d' between which 95 % of the thresholds' error leaves
// a prediction of d, errors taken for normal: d divided and multiplied by
// 10^(1.96 ThresholdError/10).
func Interval(d float64) (low, high float64) {
	factor := (1.96 * ThresholdError).Power()
	return d / factor, d * factor
}

// constants is one set of values; the tests vary it, everything else uses
// [standard].
type constants struct {
	highShare  float64 // part of the threshold's difference above 1 kHz that outer and middle ear cause; fitted
	slope      float64 // change of the lower side of a filter with level, 1/dB; fitted (Glasberg and Moore 1990: 0.35)
	saturates  float64 // dB over 51 at which half of that change is lost; fitted
	upper      float64 // sharpness of the upper side of a filter re p51; fitted
	upperSlope float64 // change of the upper side with level re that of the lower; fitted
	step       float64 // just noticeable relative change in one ERB at d' 1; fitted
	noise      float64 // the same in Gaussian noise at 1 kHz; fitted
	noiseFall  float64 // its square falls as this power of bandwidth; fitted
	beat       float64 // just noticeable mean square of a fluctuation on a steady masker; fitted
	beatNoise  float64 // the same in Gaussian noise; fitted
	integrate  float64 // s, time constant of temporal integration; Plomp and Bouman 1959, fitted
	looks      float64 // s, memory for further looks; fitted
	fast, slow float64 // s, time constants of forward masking; fitted
	slowShare  float64 // part of the masker's level, dB, that dies away slowly; fitted
	bend       float64 // dB over threshold of a masker of which half that counts afterwards; fitted
}

// standard holds the chosen constants.
var standard = constants{
	highShare: 0.733, slope: 0.55, saturates: 100, upper: 1.22, upperSlope: 0.15,
	step: 0.337, noise: 0.546, noiseFall: 1.503,
	beat: 0.0225, beatNoise: 15.958,
	integrate: 0.061, looks: 0.422,
	fast: 0.0092, slow: 0.079, slowShare: 0.656, bend: 660,
}

// Fixed parts of the model.
const (
	bandStep   = 0.5    // ERB from band to band
	firstBand  = 2.0    // ERB number of the first band, 54 Hz
	bandCount  = 76     // the last at ERB number 39.5, 16.9 kHz
	cellStep   = 1. / 3 // ERB from cell to cell
	firstCell  = 0.7    // ERB number of the first cell, 18 Hz
	cellCount  = 122    // the last at ERB number 41, 19.9 kHz
	levelStep  = 3.0    // dB between rows of the filter tables
	levelRows  = 42     // from 0 to 123 dB
	negligible = 1e-9   // weight of a filter that is left out
)
