package weighting

import "golang.org/x/sys/cpu"

// hasVectors is whether four samples are made at a time.
var hasVectors = cpu.X86.HasAVX

// vectors does as much of a chunk of n as vector instructions can, from its first on, and
// returns how many samples that was. No sum is reordered and no product fused, so the bits
// are those of plain.
func (f *fourfold) vectors(n int) int {
	n &^= 3
	if n == 0 || !hasVectors {
		return 0
	}
	fourfoldAVX(&f.y[0], &f.x[0], n, &f.c)
	return n
}

// fourfoldAVX makes n outputs, a multiple of 4 and at least that, behind the eight that y
// begins with, as x does with samples.
//
//go:noescape
func fourfoldAVX(y, x *float64, n int, c *[reach + 3]float64)
