package wave

import "golang.org/x/sys/cpu"

// hasVectors is whether eight samples are quantised at a time.
var hasVectors = cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ

// ditherVectors does as much as vector instructions can of what plain does before it shifts,
// with the noise that follows a state, and returns how many samples that was: none where
// one of them is out of range. All steps are those of plain, so the bits are too.
func ditherVectors(out *[quantised]int64, src []float64, state uint64, scale, lsb float64) int {
	n := len(src) &^ 7
	if n == 0 || n > quantised || !hasVectors {
		return 0
	}
	if !ditherAVX512(&out[0], &src[0], n, state, scale, lsb, &ditherConstants) {
		return 0
	}
	return n
}

// ditherConstants are those of dither and mix, in the order of the names in
// quantise_amd64.s: multiples of the step first.
var ditherConstants = func() (c [11]uint64) {
	for i := range uint64(8) {
		c[i] = (i + 1) * goldenGamma
	}
	c[8], c[9], c[10] = mixFirst, mixSecond, 0x3DF0000000000000 // 2^-32
	return c
}()

// ditherAVX512 takes n samples, a multiple of 8, and reports whether all are in range.
//
//go:noescape
func ditherAVX512(out *int64, src *float64, n int, state uint64, scale, lsb float64, constants *[11]uint64) bool
