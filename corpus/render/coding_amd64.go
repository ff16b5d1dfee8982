package render

import "golang.org/x/sys/cpu"

// hasVectors is whether integers are read four at a time.
var hasVectors = cpu.X86.HasAVX2

// spread moves four integers of three bytes, each with the byte before it, into words.
var spread = [16]byte{0, 1, 2, 3, 3, 4, 5, 6, 6, 7, 8, 9, 9, 10, 11, 12}

// unpackVectors does as much of unpackPlain as vector instructions can and returns how many
// values that was. It makes of each integer the same.
func (c coding) unpackVectors(block []float64, code []byte, step float64) int {
	n := len(block) &^ 3
	if !hasVectors || n == 0 {
		return 0
	}
	_ = code[codingHead+int(c)*len(block)-1]
	switch c {
	case remains:
		// Sixteen bytes are read for every four integers: not beyond the end.
		if n = (len(block) - 1) &^ 3; n > 0 {
			unpackThree(&block[0], &code[codingHead-1], n, &spread, step)
		}
	case whole:
		unpackFour(&block[0], &code[codingHead], n, step)
	default:
		return 0
	}
	return n
}

// unpackThree reads n integers, a multiple of 4, of three bytes, from the byte before the
// first.
//
//go:noescape
func unpackThree(block *float64, code *byte, n int, spread *[16]byte, step float64)

// unpackFour does the same with integers of four bytes, from the first one on.
//
//go:noescape
func unpackFour(block *float64, code *byte, n int, step float64)
