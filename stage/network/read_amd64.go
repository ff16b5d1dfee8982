package network

import "golang.org/x/sys/cpu"

// hasVectors is whether cells are read by vector instructions.
var hasVectors = cpu.X86.HasAVX

// readVectors is readPlain by vector instructions, where the processor has them, and
// reports whether it has. No sum is reordered and no product fused, so the bits are
// the same.
func readVectors(out, p []float64, rows int, x, y float64) bool {
	if !hasVectors || len(out) == 0 {
		return false
	}
	_ = p[groups(len(out))*rows*groupRow-1]
	readAVX(&out[0], len(out), &p[0], rows, x, y)
	return true
}

// readAVX fills n numbers of out, at least one, from rows, at least one, as cell holds them.
//
//go:noescape
func readAVX(out *float64, n int, p *float64, rows int, x, y float64)
