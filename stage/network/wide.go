package network

import "math"

// wide is a number of twice float64's precision, about 32 digits: the sum, not carried
// out, of a float64 and what is lost by rounding to it (T. J. Dekker, Numerische
// Mathematik 18:224, 1971). Its sums and products are made of the error-free ones of two
// float64: Knuth's sum (The Art of Computer Programming 2, 4.2.2, theorem B) and the
// product with a fused multiplication. Its range is that of float64.
type wide struct{ hi, lo float64 }

// exact returns a + b without error.
func exact(a, b float64) wide {
	sum := a + b
	part := sum - a
	return wide{sum, (a - (sum - part)) + (b - part)}
}

// carried returns the sum of a number and a remainder of not more than its size.
func carried(a, b float64) wide {
	sum := a + b
	return wide{sum, b - (sum - a)}
}

func (a wide) plus(b wide) wide {
	high, low := exact(a.hi, b.hi), exact(a.lo, b.lo)
	high = carried(high.hi, high.lo+low.hi)
	return carried(high.hi, high.lo+low.lo)
}

func (a wide) minus(b wide) wide { return a.plus(wide{-b.hi, -b.lo}) }

func (a wide) times(b wide) wide {
	product := float64(a.hi * b.hi) // rounded: not to be fused with the sum that follows
	return carried(product, math.FMA(a.hi, b.hi, -product)+(a.hi*b.lo+a.lo*b.hi))
}

// scaled returns a b.
func (a wide) scaled(b float64) wide { return a.times(wide{hi: b}) }

// inverse returns 1/a, by one step of Newton's method from the rounded one.
func (a wide) inverse() wide {
	rounded := 1 / a.hi
	left := wide{hi: 1}.minus(a.scaled(rounded))
	return carried(rounded, float64(rounded*left.hi))
}
