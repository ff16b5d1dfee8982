package shape

import "math"

// The average about a sample takes the four segments nearest to it, with the weight of a
// cubic B-spline, the triangle's average with itself: over the segment after the sample
// (4 - 6s² + 3s³)/6, over the next (1-s)³/6, and the same backwards before it. Its response
// is sinc⁴ (de Boor, A Practical Guide to Splines, 1978; Unser, IEEE Signal Processing
// Magazine 16(6), 1999).

// boxes is how many boxes of a sample's width make the spline when averaged with each other.
const boxes = 4

// spline returns the response, at w radians per sample, of n such boxes.
func spline(n int) func(w float64) float64 {
	return func(w float64) float64 {
		if w == 0 {
			return 1
		}
		return math.Pow(math.Sin(w/2)/(w/2), float64(n))
	}
}

// shares are what a segment gives to the four samples about it: to the one two before its
// start first.
type shares [boxes]float64

// shares returns those of a segment with the given moments.
func (m moments) shares() shares {
	outerEven, outerOdd := (0.125*m.m0+1.5*m.m2)/6, (0.75*m.m1+m.m3)/6
	innerEven, innerOdd := (2.875*m.m0-1.5*m.m2)/6, (3.75*m.m1-3*m.m3)/6
	return shares{outerEven - outerOdd, innerEven - innerOdd, innerEven + innerOdd, outerEven + outerOdd}
}

// Weights of the three points of Gauss's rule in the shares: the same as by way of the
// moments.
const (
	outerSum        = (5./18/8 + 1.5/24) / 6
	outerMiddle     = 8. / 18 / 8 / 6
	outerDifference = 0.15 * outer * 5 / 18
	innerSum        = (2.875*5/18 - 1.5/24) / 6
	innerMiddle     = 2.875 * 8 / 18 / 6
	innerDifference = 0.55 * outer * 5 / 18
)

// sampledShares returns the shares of a segment of the sum and the difference of f at ±outer
// and f in the middle.
func sampledShares(sum, middle, difference float64) shares {
	outerEven, outerOdd := outerSum*sum+outerMiddle*middle, outerDifference*difference
	innerEven, innerOdd := innerSum*sum+innerMiddle*middle, innerDifference*difference
	return shares{outerEven - outerOdd, innerEven - innerOdd, innerEven + innerOdd, outerEven + outerOdd}
}

// lane is room for the shares of one kind of a window's segments behind the last three.
const lane = boxes - 1 + window

// parts holds the shares of segments by kind.
type parts [boxes][lane]float64

// put sets the shares of the i-th segment of a window.
func (p *parts) put(i int, s shares) {
	for k, v := range s {
		p[k][boxes-1+i] = v
	}
}

// gatherPlain sums the shares of a window's samples from one on.
func (p *parts) gatherPlain(dst []float64, from int) {
	for i := from; i < len(dst); i++ {
		dst[i] = p[3][i] + p[2][i+1] + p[1][i+2] + p[0][i+3]
	}
}

// gather sums the shares of a window's samples and keeps those that the next window needs.
func (p *parts) gather(dst []float64) {
	n := len(dst)
	done := gatherVectors(dst, p)
	p.gatherPlain(dst, done)
	for k := range p {
		copy(p[k][:boxes-1], p[k][n:n+boxes-1])
	}
}
