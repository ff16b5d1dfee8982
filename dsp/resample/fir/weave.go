package fir

// Deinterleave takes a stream at twice the rate apart: even[i] = src[2i] and odd[i] =
// src[2i+1]. even and odd must have the same length and src twice that, or it panics; none
// may overlap another.
func Deinterleave(even, odd, src []float64) {
	n := len(even)
	odd, src = odd[:n:n], src[:2*n:2*n]
	i := deinterleaveVector(even, odd, src)
	for ; i < n; i++ {
		even[i], odd[i] = src[2*i], src[2*i+1]
	}
}

// Interleave is the way back: dst[2i] = even[i] and dst[2i+1] = odd[i], with the same rules.
func Interleave(dst, even, odd []float64) {
	n := len(even)
	odd, dst = odd[:n:n], dst[:2*n:2*n]
	i := interleaveVector(dst, even, odd)
	for ; i < n; i++ {
		dst[2*i], dst[2*i+1] = even[i], odd[i]
	}
}
