package transform

// The stages of the complex transform, real and imaginary parts apart, so that four
// neighbours go through the same instructions. What vector instructions do is the plain way
// to the bit: no sum is reordered and no product fused.

// runHalves is a stage of halves over the whole: its roots have one power.
func runHalves(re, im, roots []float64) {
	if !halvesVector(re, im, roots) {
		halvesPlain(re, im, roots)
	}
}

func halvesPlain(re, im, roots []float64) {
	h := len(re) / 2
	ar, br, ai, bi := re[:h], re[h:][:h], im[:h], im[h:][:h]
	for j := range ar {
		w := roots[j>>2<<3+j&3:][:5]
		dr, di := ar[j]-br[j], ai[j]-bi[j]
		ar[j], ai[j] = ar[j]+br[j], ai[j]+bi[j]
		br[j], bi[j] = times(dr, di, w[0], w[4])
	}
}

// runFourths is a stage of fourths over all of its blocks.
func runFourths(re, im []float64, s *fourths) {
	if !fourthsVector(re, im, s) {
		fourthsPlain(re, im, s)
	}
}

func fourthsPlain(re, im []float64, s *fourths) {
	q := s.quarter
	for at := 0; at < len(re); at += 4 * q {
		ar, br, cr, dr := re[at:][:q], re[at+q:][:q], re[at+2*q:][:q], re[at+3*q:][:q]
		ai, bi, ci, di := im[at:][:q], im[at+q:][:q], im[at+2*q:][:q], im[at+3*q:][:q]
		for j := range ar {
			w := s.roots[j>>2*24+j&3:][:21]
			s0r, s0i, s1r, s1i := ar[j]+cr[j], ai[j]+ci[j], ar[j]-cr[j], ai[j]-ci[j]
			s2r, s2i, s3r, s3i := br[j]+dr[j], bi[j]+di[j], br[j]-dr[j], bi[j]-di[j]
			ar[j], ai[j] = s0r+s2r, s0i+s2i
			br[j], bi[j] = times(s1r+s3i, s1i-s3r, w[0], w[4])
			cr[j], ci[j] = times(s0r-s2r, s0i-s2i, w[8], w[12])
			dr[j], di[j] = times(s1r-s3i, s1i+s3r, w[16], w[20])
		}
	}
}

// runLast is the stage of blocks of four values, whose roots are all one. Of four such
// blocks it leaves the first values together, then the second, third and fourth.
func runLast(re, im []float64) {
	if !lastVector(re, im) {
		lastPlain(re, im)
	}
}

func lastPlain(re, im []float64) {
	if len(re) < 16 {
		for ; len(re) > 0; re, im = re[4:], im[4:] {
			lastOf(re, im, 1, re, im)
		}
		return
	}
	var turnedRe, turnedIm [16]float64
	for ; len(re) > 0; re, im = re[16:], im[16:] {
		for block := range 4 {
			lastOf(turnedRe[block:], turnedIm[block:], 4, re[4*block:], im[4*block:])
		}
		copy(re, turnedRe[:])
		copy(im, turnedIm[:])
	}
}

// lastOf writes the transform of four values, each apart from the next.
func lastOf(dstRe, dstIm []float64, apart int, re, im []float64) {
	s0r, s0i, s1r, s1i := re[0]+re[2], im[0]+im[2], re[0]-re[2], im[0]-im[2]
	s2r, s2i, s3r, s3i := re[1]+re[3], im[1]+im[3], re[1]-re[3], im[1]-im[3]
	dstRe[0], dstIm[0] = s0r+s2r, s0i+s2i
	dstRe[apart], dstIm[apart] = s1r+s3i, s1i-s3r
	dstRe[2*apart], dstIm[2*apart] = s0r-s2r, s0i-s2i
	dstRe[3*apart], dstIm[3*apart] = s1r-s3i, s1i+s3r
}

// times is the product of two complex numbers, nothing fused.
func times(ar, ai, br, bi float64) (re, im float64) {
	return float64(ar*br) - float64(ai*bi), float64(ar*bi) + float64(ai*br)
}
