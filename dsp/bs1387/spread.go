package bs1387

import "math"

// Spreading over frequency: two exponential slopes on either side of a band, the
// upper one depending on level, added under an exponent of 0.4 and normalised.

// Spreading over frequency, BS.1387, 2.1.7.
const (
	lowerSlope    = 27.0 // dB/Bark towards lower bands
	upperSlope    = 24.0 // dB/Bark towards higher bands, and
	upperPerHertz = 230. // dB/Bark·Hz more, divided by the centre frequency, and
	upperPerLevel = 0.2  // dB/Bark less for each dB of level
	addition      = 0.4  // exponent under which spread energies add

	decibel = math.Ln10 / 10 // natural logarithm of one decibel of energy
)

// spreading smears the energy of each band over its neighbours. The pattern of
// one band falls by 27 dB/Bark downwards and by 24 + 230/f - 0.2 L dB/Bark
// upwards, is scaled so that its sum is the band's energy, and adds to the other
// patterns under an exponent of 0.4. The total is divided by what the same sum
// gives for 0 dB in every band.
type spreading struct {
	lower      float64 // factor of one band downwards, raised to addition
	lowerTotal pattern // sum of the downward branch, the band itself included
	upperZero  pattern // natural logarithm of the upward factor at 0 dB
	scale      pattern // one over the sum for 0 dB everywhere
}

func newSpreading(bands *[bandCount]band) *spreading {
	s := &spreading{lower: math.Exp(-addition * lowerSlope * bandWidth * decibel)}
	factor := math.Exp(-lowerSlope * bandWidth * decibel)
	for k, b := range bands {
		s.lowerTotal[k] = (1 - math.Pow(factor, float64(k+1))) / (1 - factor)
		s.upperZero[k] = -(upperSlope + upperPerHertz/b.centre) * bandWidth * decibel
		s.scale[k] = 1
	}
	var flat, sum pattern
	for k := range flat {
		flat[k] = 1
	}
	s.apply(&sum, &flat)
	for k, total := range sum {
		s.scale[k] = 1 / total
	}
	return s
}

// apply writes the spread pattern of energy to dst; the two may be the same.
func (s *spreading) apply(dst, energy *pattern) {
	var own, sum pattern
	for k, e := range energy {
		logE := math.Log(e)
		logUp := s.upperZero[k] + upperPerLevel*bandWidth*logE
		fifth := math.Exp(logUp / 5)
		up := fifth * fifth // raised to addition
		total := s.lowerTotal[k] + geometric(up*up*fifth, logUp, bandCount-k) - 1
		own[k] = math.Exp(addition * (logE - math.Log(total)))
		addGeometric(sum[k+1:], own[k], up)
	}
	down := 0.0
	for k := bandCount - 1; k >= 0; k-- {
		down = own[k] + s.lower*down
		x := sum[k] + down
		dst[k] = x * x * math.Sqrt(x) * s.scale[k] // x^(1/addition)
	}
}

// geometric returns 1 + r + … + r^(n-1) from r and its natural logarithm.
func geometric(r, logR float64, n int) float64 {
	if math.Abs(logR) < 1e-6 {
		return float64(n)
	}
	return (1 - math.Exp(float64(n)*logR)) / (1 - r)
}

// addGeometric adds x·r, x·r², … to dst, two at a time so that one product need
// not wait for the other.
func addGeometric(dst []float64, x, r float64) {
	odd, even, square := x*r, x*r*r, r*r
	for len(dst) >= 2 {
		dst[0] += odd
		dst[1] += even
		odd *= square
		even *= square
		dst = dst[2:]
	}
	if len(dst) > 0 {
		dst[0] += odd
	}
}
