package fir

// Fold sums pairs of samples that share a coefficient:
//
//	dst[i] = sum over k of taps[k]·(left[i+m-1-k] + right[i+k]), m = len(taps)
//
// left and right must each hold at least len(dst)+m-1 samples; they may overlap
// each other but not dst. Every dst[i] is summed in the same order whatever its
// place in the block, so its bits do not depend on how a stream is cut.
func Fold(dst, left, right, taps []float64) {
	m := len(taps)
	i := 0
	for ; i+4 <= len(dst); i += 4 {
		var a0, a1, a2, a3 float64
		for k, c := range taps {
			l := left[i+m-1-k : i+m+3-k]
			r := right[i+k : i+k+4]
			a0 += c * (l[0] + r[0])
			a1 += c * (l[1] + r[1])
			a2 += c * (l[2] + r[2])
			a3 += c * (l[3] + r[3])
		}
		dst[i], dst[i+1], dst[i+2], dst[i+3] = a0, a1, a2, a3
	}
	for ; i < len(dst); i++ {
		var a float64
		for k, c := range taps {
			a += c * (left[i+m-1-k] + right[i+k])
		}
		dst[i] = a
	}
}
