//go:build !amd64

package shape

var hasVectors, hasWide = false, false

// stay does as much of segments as vector instructions can and returns how many segments
// that was: none on this processor.
func stay(_ *parts, _ int, _ []float64, _ *cell) int { return 0 }

// gatherVectors does as much of gatherPlain as vector instructions can: nothing on this
// processor.
func gatherVectors([]float64, *parts) int { return 0 }
