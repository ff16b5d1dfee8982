package weighting

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// polePair is two poles of an analogue network in hertz (s/2π): a complex pair
// or two real ones, with the number of zeros at 0 Hz that go with them.
type polePair struct {
	first, second complex128
	zeros         int
}

// network is an analogue weighting: gain·s^zeros / Π(s - pole), s in hertz.
type network struct {
	pairs []polePair
	gain  float64
}

// response returns the network's complex gain at a frequency in hertz.
func (n network) response(hertz float64) complex128 {
	h, s := complex(n.gain, 0), complex(0, hertz)
	for _, p := range n.pairs {
		h *= cmplx.Pow(s, complex(float64(p.zeros), 0)) / ((s - p.first) * (s - p.second))
	}
	return h
}

// Size of the digital design: the correcting taps and the delay that centres
// them. With these the worst deviation from the network up to 20 kHz is that
// measured in the tests of A and of Noise468.
const (
	taps  = 21
	delay = (taps - 1) / 2
)

// digital returns the network as a filter at a rate in hertz. Poles and the zeros
// at 0 Hz move as e^(2πp/rate), which keeps them exact; a short correcting
// numerator, in the section of the highest poles (the last), is fitted by least
// squares of the relative error so that the response is the network's up to
// 0.4536 of the rate (20 kHz at 44.1 kHz), delayed by a few samples.
func (n network) digital(rate float64) *Filter {
	checkRate(rate)
	var sections []section
	for _, p := range n.pairs {
		a, b := cmplx.Exp(2*math.Pi*p.first/complex(rate, 0)), cmplx.Exp(2*math.Pi*p.second/complex(rate, 0))
		s := section{b: []float64{1, 0, 0}, a1: -real(a + b), a2: real(a * b)}
		switch p.zeros {
		case 1:
			s.b = []float64{1, -1, 0}
		case 2:
			s.b = []float64{1, -2, 1}
		}
		sections = append(sections, s)
	}
	last := &sections[len(sections)-1]
	last.b = n.correction(sections, rate)
	return newFilter(rate, sections)
}

// correction returns the numerator c of the last section (which has no zero at
// 0 Hz) that makes the sections follow the network: |c·sections/network - 1|²
// is minimum over frequencies spaced both evenly and by ratio.
func (n network) correction(sections []section, rate float64) []float64 {
	frequencies := designFrequencies(min(0.4536*rate, 40000))
	rows := len(frequencies)
	m, want := mat.NewDense(2*rows, taps, nil), mat.NewVecDense(2*rows, nil)
	for i, hertz := range frequencies {
		w := cmplx.Rect(1, -2*math.Pi*hertz/rate)
		have := complex(1, 0)
		for _, s := range sections {
			have *= s.response(w)
		}
		have /= n.response(hertz)
		turn := cmplx.Pow(w, -delay)
		for k := range taps {
			term := have * turn
			m.Set(i, k, real(term))
			m.Set(rows+i, k, imag(term))
			turn *= w
		}
		want.SetVec(i, 1)
	}
	var c mat.VecDense
	// A condition beyond 1/ε is reported as an error, yet the smallest solution
	// is what is wanted: at high rates many corrections are equally good.
	var svd mat.SVD
	svd.Factorize(m, mat.SVDThin)
	svd.SolveVecTo(&c, want, svd.Rank(1e-12))
	return c.RawVector().Data
}

// designFrequencies returns hertz from 10 to top.
func designFrequencies(top float64) []float64 {
	var f []float64
	const even, ratio = 300, 80
	for i := range ratio {
		f = append(f, 10*math.Pow(top/10, float64(i)/ratio))
	}
	for i := range even {
		f = append(f, top*float64(i+1)/even)
	}
	return f
}
