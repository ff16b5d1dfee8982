package weighting

import "math"

// The two stages of the K weighting as ITU-R BS.1770-5 prints them for 48 kHz
// (Annex 1, tables 1 and 2).
var (
	shelf48k = section{
		b:  []float64{1.53512485958697, -2.69169618940638, 1.19839281085285},
		a1: -1.69065929318241, a2: 0.73248077421585,
	}
	highPass48k = section{
		b:  []float64{1, -2, 1},
		a1: -1.99004745483398, a2: 0.99007225036621,
	}
)

// K returns the K weighting of ITU-R BS.1770-5 for a sample rate in hertz, legal
// from [MinRate] to [MaxRate]; it panics outside. The standard gives
// coefficients for 48 kHz alone and asks other rates to match their response:
// each section is taken back through the bilinear relation at 48 kHz and forth
// again at the wanted rate, keeping its pole frequency in hertz. At 48 kHz that
// returns the printed coefficients.
func K(rate float64) *Filter {
	checkRate(rate)
	return newFilter(rate, []section{rerate(shelf48k, rate), rerate(highPass48k, rate)})
}

// rerate moves a 48 kHz second-order section to another rate. With
// z⁻¹ = (1-s)/(1+s) a polynomial c0 + c1 z⁻¹ + c2 z⁻² becomes
// (c0-c1+c2) s² + 2(c0-c2) s + (c0+c1+c2), and s stands for j·tan(πf/rate).
// Replacing s by s·k, k the ratio of that tangent at the pole frequency, keeps
// the pole where it is in hertz.
func rerate(s section, rate float64) section {
	const printed = 48000
	if rate == printed {
		return s
	}
	num := analog(s.b[0], s.b[1], s.b[2])
	den := analog(1, s.a1, s.a2)
	pole := math.Sqrt(den[0] / den[2])
	hertz := math.Atan(pole) * printed / math.Pi
	k := pole / math.Tan(math.Pi*hertz/rate)
	b, a := digital(num, k), digital(den, k)
	return section{
		b:  []float64{b[0] / a[0], b[1] / a[0], b[2] / a[0]},
		a1: a[1] / a[0], a2: a[2] / a[0],
	}
}

// analog returns the coefficients of s⁰, s¹, s².
func analog(c0, c1, c2 float64) [3]float64 {
	return [3]float64{c0 + c1 + c2, 2 * (c0 - c2), c0 - c1 + c2}
}

// digital undoes analog after replacing s by k·s, but for a common factor 4.
func digital(p [3]float64, k float64) [3]float64 {
	q0, q1, q2 := p[0], p[1]*k, p[2]*k*k
	return [3]float64{q0 + q1 + q2, 2 * (q0 - q2), q0 - q1 + q2}
}
