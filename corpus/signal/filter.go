package signal

import "math"

// onePole is a low-pass y = x + keep·(y − x), of unit gain at DC. It works at
// scoreRate.
type onePole struct{ keep, state float64 }

// lowPass1 returns a one-pole low-pass with its corner near hz.
func lowPass1(hz float64) onePole {
	return onePole{keep: math.Exp(-2 * math.Pi * hz / scoreRate)}
}

func (f *onePole) step(x float64) float64 {
	f.state = x + f.keep*(f.state-x)
	return f.state
}

// biquad is a second-order filter at scoreRate, in transposed direct form II.
// The designs are the bilinear transforms of the analogue prototypes.
type biquad struct{ b0, b1, b2, a1, a2, s1, s2 float64 }

func (f *biquad) step(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}

// run filters x in place and returns it.
func (f *biquad) run(x []float64) []float64 {
	for i, v := range x {
		x[i] = f.step(v)
	}
	return x
}

// poles returns the filter's denominator and the terms its numerators need.
func poles(hz, q float64) (f biquad, cos, alpha, norm float64) {
	sin, cos := math.Sincos(2 * math.Pi * hz / scoreRate)
	alpha = sin / (2 * q)
	norm = 1 / (1 + alpha)
	return biquad{a1: -2 * cos * norm, a2: (1 - alpha) * norm}, cos, alpha, norm
}

// lowPass returns 1/(s²+s/q+1) at hz.
func lowPass(hz, q float64) biquad {
	f, cos, _, norm := poles(hz, q)
	f.b1 = (1 - cos) * norm
	f.b0, f.b2 = f.b1/2, f.b1/2
	return f
}

// highPass returns s²/(s²+s/q+1) at hz.
func highPass(hz, q float64) biquad {
	f, cos, _, norm := poles(hz, q)
	f.b1 = -(1 + cos) * norm
	f.b0, f.b2 = -f.b1/2, -f.b1/2
	return f
}

// bandPass returns (s/q)/(s²+s/q+1) at hz, of unit gain there.
func bandPass(hz, q float64) biquad {
	f, _, alpha, norm := poles(hz, q)
	f.b0, f.b2 = alpha*norm, -alpha*norm
	return f
}
