package distortion

import (
	"math"
	"slices"

	"quietcross/dsp/level"
)

// SteadyPart returns the longest stretch x[from:to] over which the level stays
// within 1 dB of what it usually is, in blocks of 100 ms, less its first and last
// block: a recording of a test tone without the silence, clicks and fades around
// it. Rate is in hertz. A record with less than eight blocks is returned whole, as
// is one that holds no stretch of eight blocks or of half its sounding length.
func SteadyPart(x []float64, rate float64) (from, to int) {
	const minimum, within, blockSeconds = 8, 0.12, 0.1
	block := max(1, int(blockSeconds*rate))
	count := len(x) / block
	if count < minimum {
		return 0, len(x)
	}
	levels := make([]float64, count)
	for i := range levels {
		levels[i] = level.RMS(x[i*block : (i+1)*block])
	}
	loud := slices.DeleteFunc(slices.Clone(levels), func(v float64) bool { return v < slices.Max(levels)/2 })
	slices.Sort(loud)
	usual := loud[len(loud)/2]
	first, length := longestRun(levels, func(v float64) bool { return math.Abs(v-usual) <= within*usual })
	if length < minimum || length < len(loud)/2 {
		return 0, len(x)
	}
	// The outermost blocks may hold a fade too short to show in their level.
	return (first + 1) * block, (first + length - 1) * block
}

// longestRun returns where the longest run of values that pass starts, and its
// length.
func longestRun(values []float64, pass func(float64) bool) (first, length int) {
	run := 0
	for i, v := range values {
		if !pass(v) {
			run = 0
			continue
		}
		if run++; run > length {
			first, length = i-run+1, run
		}
	}
	return first, length
}
