package hearing

import "golang.org/x/sys/cpu"

// rowsVector does as much of addRows as vector instructions can and returns how many bands
// that was. No product is fused, so that the bits are those of rowsPlain.
func rowsVector(dst, a, b []float64, pa, pb float64) int {
	n := len(dst) &^ 3
	if n == 0 || !cpu.X86.HasAVX {
		return 0
	}
	a, b = a[:n], b[:n]
	rowsAVX(&dst[0], &a[0], &b[0], pa, pb, n)
	return n
}

// rowsAVX does n bands, a multiple of 4.
//
//go:noescape
func rowsAVX(dst, a, b *float64, pa, pb float64, n int)
