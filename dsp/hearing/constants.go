package hearing

// The model's constants in one place. Those marked "fitted" were found by
// TestFitConstants from the published thresholds in README.md; the rest are taken
// from the sources named.

// ModelVersion names the model and its constants. It changes whenever a predicted
// threshold can change, so that a listener's efficiency is not carried over to
// another model unnoticed.
const ModelVersion = "2026-11-27"

// constants is one set of values; the tests vary it, everything else uses
// [standard].
type constants struct {
	slope      float64 // change of the lower side of a filter with level, 1/dB; Glasberg and Moore 1990: 0.35
	tail       float64 // weight of the broad tail towards higher filters, re its peak; fitted
	tailSlope  float64 // sharpness of the tail re the filter's; fitted
	step       float64 // just noticeable relative change in one ERB at d' 1; fitted
	noise      float64 // the same in Gaussian noise at 1 kHz; fitted
	noiseSlope float64 // its growth, as a power of bandwidth; fitted
	beat       float64 // just noticeable mean square of a fluctuation on a steady masker; fitted
	beatNoise  float64 // the same in Gaussian noise; fitted
	integrate  float64 // s, time constant of temporal integration; Plomp and Bouman 1959, fitted
	looks      float64 // s, memory for further looks; fitted
	fast, slow float64 // s, time constants of forward masking; fitted
	fastShare  float64 // dB of masking for each dB of masker, fast part; fitted
	slowShare  float64 // the same, slow part; fitted
	onset      float64 // dB over threshold from which a masker leaves forward masking; fitted
}

// standard holds the chosen constants.
var standard = constants{
	slope: 0.35, tail: 1e-4, tailSlope: 0.45,
	step: 0.55, noise: 0.6, noiseSlope: 0,
	beat: 0.02, beatNoise: 3,
	integrate: 0.2, looks: 0.5,
	fast: 0.015, slow: 0.09, fastShare: 0.17, slowShare: 0.22, onset: 10,
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
