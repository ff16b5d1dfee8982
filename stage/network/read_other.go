//go:build !amd64

package network

var hasVectors = false

// readVectors does not read, and reports so: this processor has no vector instructions
// that are used.
func readVectors(_, _ []float64, _ int, _, _ float64) bool { return false }
