//go:build !amd64

package render

var hasVectors = false

// unpackVectors reads as many values as vector instructions can and returns how many that was:
// none on this processor.
func (c coding) unpackVectors([]float64, []byte, float64) int { return 0 }
