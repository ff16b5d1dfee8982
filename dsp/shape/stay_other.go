//go:build !amd64

package shape

// stay does as much of swing as vector instructions can and returns how many samples of
// dst that was: none on this processor.
func stay(_, _ []float64, _ *cell, _ *float64) int { return 0 }

var hasVectors = false
