//go:build !amd64

package wave

var hasVectors = false

// ditherVectors quantises as many samples as vector instructions can and returns how many
// that was: none on this processor.
func ditherVectors(_ *[quantised]int64, _ []float64, _ uint64, _, _ float64) int { return 0 }
