package hearing

import "math"

// Constants of the gammatone bands. Widths are after Glasberg and Moore, Hearing
// Research 47 (1990): 24.7 (4.37 f/kHz + 1) Hz, one to each step of
// 21.4 log10(4.37 f/kHz + 1); the order and the factor 1.019 after Patterson et
// al. (1987), from memory.
const (
	gammatoneBands = 40
	gammatoneFirst = 50.0 // Hz
	gammatoneOrder = 4
	gammatoneWidth = 1.019
)

// rectangular returns the equivalent rectangular bandwidth of the ear at f, both
// in hertz.
func rectangular(f float64) float64 { return 24.7 * (4.37*f/1000 + 1) }

// gammatoneCentre returns the centre of band i in hertz, one equivalent
// rectangular bandwidth above the one before.
func gammatoneCentre(i int) float64 {
	first := 21.4 * math.Log10(4.37*gammatoneFirst/1000+1)
	return (math.Pow(10, (first+float64(i))/21.4) - 1) * 1000 / 4.37
}

// negligible is a state that is set to zero after a block: in silence it would
// shrink to numbers that processors are slow with.
const negligible = 1e-150

// gammatone is one band-pass filter: a cascade of four equal complex resonators
// whose real part has an envelope of the form t³ e^(-2πbt).
type gammatone struct {
	pole  complex128
	gain  float64
	state [gammatoneOrder]complex128
}

// newGammatone returns a filter of unit gain at its centre f.
func newGammatone(f float64) gammatone {
	radius := math.Exp(-2 * math.Pi * gammatoneWidth * rectangular(f) / Rate)
	sin, cos := math.Sincos(2 * math.Pi * f / Rate)
	return gammatone{
		pole: complex(radius*cos, radius*sin),
		gain: 2 * math.Pow(1-radius, gammatoneOrder),
	}
}

// process filters src into dst, which has the same length and may be src.
func (g *gammatone) process(dst, src []float64) {
	s := g.state
	for n, x := range src {
		s[0] = s[0]*g.pole + complex(x*g.gain, 0)
		s[1] = s[1]*g.pole + s[0]
		s[2] = s[2]*g.pole + s[1]
		s[3] = s[3]*g.pole + s[2]
		dst[n] = real(s[3])
	}
	for i, v := range s {
		if absolute(v) < negligible {
			s[i] = 0
		}
	}
	g.state = s
}
