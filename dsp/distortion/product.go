package distortion

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Product is one intermodulation product or harmonic of two tones.
type Product struct {
	N1, N2    int     // the product lies at |N1·f1 + N2·f2|
	Frequency float64 // hertz
	Amplitude float64 // peak, full scale 1
	// Value is the amplitude and phase at an instant when both tones crest: a
	// memoryless law leaves every product real.
	Value complex128
	Sigma float64 // standard uncertainty of the real and the imaginary part
}

// Name writes the product as trade does: 2f2-f1, f2+f1, 3f1.
func (p Product) Name() string { return ProductName(p.N1, p.N2) }

// ProductName writes n1·f1 + n2·f2 as trade does: 2f2-f1, f2+f1, 3f1.
func ProductName(n1, n2 int) string {
	term := func(n int, tone string) string {
		switch n {
		case 1:
			return tone
		case -1:
			return "-" + tone
		}
		return fmt.Sprintf("%d%s", n, tone)
	}
	switch {
	case n2 == 0:
		return term(n1, "f1")
	case n1 == 0:
		return term(n2, "f2")
	case n2 < 0:
		return term(n1, "f1") + term(n2, "f2")
	case n1 > 0:
		return term(n2, "f2") + "+" + term(n1, "f1")
	}
	return term(n2, "f2") + term(n1, "f1")
}

// products returns every line of a solution of two tones.
func (s *solution) products(rate float64) []Product {
	noise := newNoise(s.residual, rate)
	products := make([]Product, len(s.c))
	for k, omega := range s.omegas() {
		hertz := omega * rate / (2 * math.Pi)
		products[k] = Product{
			N1: s.orders[k][0], N2: s.orders[k][1], Frequency: hertz,
			Amplitude: cmplx.Abs(s.c[k]), Value: s.atCrests(k), Sigma: noise.sigma(hertz, s.record),
		}
	}
	return products
}

// atCrests returns line k with its phase counted from where both tones crest.
func (s *solution) atCrests(k int) complex128 {
	n1, n2 := float64(s.orders[k][0]), float64(s.orders[k][1])
	c := s.c[k]
	if n1*s.tones[0]+n2*s.tones[1] < 0 {
		c = cmplx.Conj(c) // fitted at the positive frequency
	}
	return c * cis(-n1*cmplx.Phase(s.c[0])-n2*cmplx.Phase(s.c[1]))
}
