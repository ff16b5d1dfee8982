//go:build !amd64

package fir

// No vector instructions are used on this processor.
func deinterleaveVector(_, _, _ []float64) int { return 0 }
func interleaveVector(_, _, _ []float64) int   { return 0 }
