package fir

// Fold sums pairs of samples that share a coefficient:
//
//	dst[i] = sum over k of taps[k]·(left[i+m-1-k] + right[i+k]), m = len(taps)
//
// left and right must each hold at least len(dst)+m-1 samples, or it panics; they
// may overlap each other but not dst. Every dst[i] is summed in the same order
// whatever its place in the block and whatever the processor, so its bits do not
// depend on how a stream is cut.
func Fold(dst, left, right, taps []float64) {
	if len(taps) == 0 {
		clear(dst)
		return
	}
	if len(dst) == 0 {
		return
	}
	need := len(dst) + len(taps) - 1
	left, right = left[:need], right[:need]
	n := foldVector(dst, left, right, taps)
	foldScalar(dst[n:], left[n:], right[n:], taps)
}

// foldScalar is Fold in plain Go, four sums at a time.
func foldScalar(dst, left, right, taps []float64) {
	m := len(taps)
	i := 0
	for ; i+4 <= len(dst); i += 4 {
		var a0, a1, a2, a3 float64
		for k, c := range taps {
			l := left[i+m-1-k : i+m+3-k]
			r := right[i+k : i+k+4]
			a0 += float64(c * (l[0] + r[0]))
			a1 += float64(c * (l[1] + r[1]))
			a2 += float64(c * (l[2] + r[2]))
			a3 += float64(c * (l[3] + r[3]))
		}
		dst[i], dst[i+1], dst[i+2], dst[i+3] = a0, a1, a2, a3
	}
	for ; i < len(dst); i++ {
		var a float64
		for k, c := range taps {
			a += float64(c * (left[i+m-1-k] + right[i+k]))
		}
		dst[i] = a
	}
}
