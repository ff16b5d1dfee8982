//go:build !amd64

package weighting

var hasVectors = false

// vectors does as much of a chunk as vector instructions can and returns how many samples
// that was: none on this processor.
func (f *fourfold) vectors(int) int { return 0 }
