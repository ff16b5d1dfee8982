package shape_test

import "math"

// pair is the ideal complementary pair: two junctions of exponential law with a
// resistor each, infinite current gain, into a resistive load. Its law is known
// in closed form by the angle t, half the logarithm of the ratio of the currents:
// with iN = g·e^t and iP = g·e^-t the two equations
//
//	VT ln(iN iP/IQ²) + RE (iN + iP - 2 IQ) = 0
//	vi - vo = VT/2 ln(iN/iP) + RE (iN - iP)/2,  vo = RL (iN - iP)
//
// (Kirchhoff's voltage law around the bases with two exponential junctions)
// become ln z + z = ln(IQ·RE·cosh(t)/VT) + RE·IQ/VT for z = g·RE·cosh(t)/VT.
type pair struct{ vt, re, rl, iq float64 }

// biased is a pair whose bases are vbb volts apart, with saturation current is:
// vbb = 2 VT ln(IQ/is) + 2 RE IQ.
func biased(vt, re, rl, is, vbb float64) pair {
	z := omega(vbb/(2*vt) + math.Log(is*re/vt))
	return pair{vt: vt, re: re, rl: rl, iq: z * vt / re}
}

// omega solves z + ln z = y for z > 0 by Newton's method in ln z.
func omega(y float64) float64 {
	u := min(y, math.Log(1+math.Abs(y)))
	for range 100 {
		step := (math.Exp(u) + u - y) / (math.Exp(u) + 1)
		u -= step
		if math.Abs(step) < 1e-16*(1+math.Abs(u)) {
			break
		}
	}
	return math.Exp(u)
}

// point returns input and output volts and their slopes over t.
func (p pair) point(t float64) (vi, vo, dvi, dvo float64) {
	if p.re == 0 { // both currents are IQ·e^±t
		i, di := 2*p.iq*math.Sinh(t), 2*p.iq*math.Cosh(t)
		return p.vt*t + p.rl*i, p.rl * i, p.vt + p.rl*di, p.rl * di
	}
	th := math.Tanh(t)
	z := omega(math.Log(p.re*p.iq/p.vt) + logCosh(t) + p.re*p.iq/p.vt)
	i := 2 * z * p.vt / p.re * th
	di := 2 * p.vt / p.re * z * (th*th/(1+z) + 1 - th*th)
	return p.vt*t + (p.re/2+p.rl)*i, p.rl * i, p.vt + (p.re/2+p.rl)*di, p.rl * di
}

// at returns the output volts and the gain at input x, by Newton's method on t
// inside a bracket.
func (p pair) at(x float64) (y, slope float64) {
	if x < 0 {
		y, slope = p.at(-x)
		return -y, slope
	}
	lo, hi := 0.0, x/p.vt
	t := min(hi, 20)
	for range 200 {
		vi, _, dvi, _ := p.point(t)
		if vi > x {
			hi = t
		} else {
			lo = t
		}
		step := (vi - x) / dvi
		if math.Abs(step) <= 2e-16*t {
			break
		}
		t -= step
		if t < lo || t > hi {
			t = (lo + hi) / 2
		}
	}
	_, vo, dvi, dvo := p.point(t)
	return vo, dvo / dvi
}

func (p pair) law(x float64) (y, slope float64, err error) {
	y, slope = p.at(x)
	return y, slope, nil
}

func logCosh(t float64) float64 {
	t = math.Abs(t)
	return t + math.Log1p(math.Exp(-2*t)) - math.Ln2
}
