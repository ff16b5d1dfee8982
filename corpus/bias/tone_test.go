package bias

import (
	"math"
	"testing"

	"quietcross/dsp/shape"
)

func fittedLaw(t *testing.T, f func(float64) (y, slope float64), reach float64) *shape.Law {
	t.Helper()
	law, err := shape.Fit(func(x float64) (float64, float64, error) {
		y, slope := f(x)
		return y, slope, nil
	}, -reach, reach, 1e-11*reach)
	if err != nil {
		t.Fatal(err)
	}
	return law
}

func near(t *testing.T, name string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: %.9g, want %.9g", name, got, want)
	}
}

// x + a2·x² + a3·x³ on a cosine of A: harmonics a2A²/2 and a3A³/4 re A + ¾a3A³;
// on two tones of A and B the sidebands are a2AB and ¾a3A²B each (algebra of the
// powers of cosines, in any text on intermodulation).
func TestPolynomialLaw(t *testing.T) {
	const a2, a3, peak = 0.02, 0.03, 0.9
	law := fittedLaw(t, func(x float64) (float64, float64) {
		return x + a2*x*x + a3*x*x*x, 1 + 2*a2*x + 3*a3*x*x
	}, 1.2)
	p := LawTone(law, 1000, peak)
	fundamental := peak + 0.75*a3*peak*peak*peak
	second, third := a2*peak*peak/2/fundamental, a3*peak*peak*peak/4/fundamental
	near(t, "output", p.Output, fundamental, 1e-9)
	near(t, "DC", p.Offset, a2*peak*peak/2, 1e-9)
	near(t, "second", p.Harmonics[0], second, 1e-8)
	near(t, "third", p.Harmonics[1], third, 1e-8)
	near(t, "THD", p.THD, math.Hypot(second, third), 1e-8)
	near(t, "order-weighted", p.OrderWeighted, math.Hypot(second, third*9/4), 1e-8)
	near(t, "in band, 1 kHz", p.InBand, math.Hypot(second, third)/math.Hypot(1, math.Hypot(second, third)), 1e-8)
	near(t, "in band, 8 kHz: the second alone", LawTone(law, 8000, peak).InBand, second/math.Hypot(1, second), 1e-8)
	if got := LawTone(law, 15000, peak).InBand; got != 0 {
		t.Errorf("in band, 15 kHz: %v, want none", got)
	}

	a, b := 0.8*peak, 0.2*peak
	high := b + 0.75*a3*b*b*b + 1.5*a3*a*a*b
	two := lawTwoTone(law, peak)
	near(t, "modulation, second", two.Modulation2, 2*a2*a*b/high, 1e-8)
	near(t, "modulation, third", two.Modulation3, 1.5*a3*a*a*b/high, 1e-8)
	a = peak / 2
	tone := a + 2.25*a3*a*a*a
	near(t, "difference, second", two.Difference2, a2*a*a/(2*tone), 1e-8)
	near(t, "difference, third", two.Difference3, 1.5*a3*a*a*a/(2*tone), 1e-8)

	swing := LawSwing(law, peak)
	near(t, "gain at the crest", swing.GainAtHigh, 1+2*a2*peak+3*a3*peak*peak, 1e-8)
	// T''² of the scaled law, Geddes & Lee: 2a2 and 2.16907233·a3 are orthogonal.
	k := 1 + a3*peak*peak
	near(t, "Gm", *swing.Gm, math.Hypot(2*a2*peak, 2.16907233*a3*peak*peak)/k, 1e-5)
}

// deadBandTHD is that of an ideal dead band of r times the peak, all orders: from
// the mean square of the output, by Parseval, and the fundamental of Gelb & Vander
// Velde: THD² = 2 ms/b1² - 1, ms the mean square (of peak 1) and b1 the fundamental.
var deadBandTHD = map[float64]float64{0.05: 0.0310333984, 0.1: 0.0626751016, 0.2: 0.128414917, 0.5: 0.362808194}

func TestDeadBand(t *testing.T) {
	for r, want := range deadBandTHD {
		law := fittedLaw(t, func(x float64) (float64, float64) {
			if math.Abs(x) <= r {
				return 0, 0
			}
			return x - math.Copysign(r, x), 1
		}, 1.5)
		near(t, "THD", LawTone(law, 1000, 1).THD, want, 2e-5)
		if gm := LawSwing(law, 1).Gm; gm != nil {
			t.Errorf("an ideal dead band has a Gm of %v", *gm)
		}
	}
}

// pair returns the law of the ideal emitter-follower pair with emitter resistors,
// in units of volts: given the ratio of its two currents, VT·ln(iN·iP/IQ²) +
// RE(iN+iP-2IQ) = 0 gives their size and vi-vo = VT/2·ln(iN/iP) + RE(iN-iP)/2.
func pair(iq, re, rl, vt float64) func(vi float64) (vo, slope float64) {
	at := func(logRatio float64) (vi, vo float64) {
		// iN = m·e^(l/2), iP = m·e^(-l/2): solve for m by Newton in its logarithm.
		cosh, sinh := math.Cosh(logRatio/2), math.Sinh(logRatio/2)
		u := math.Log(iq)
		if logRatio != 0 {
			u -= math.Abs(logRatio) / 2
		}
		for range 200 {
			m := math.Exp(u)
			f := 2*vt*(u-math.Log(iq)) + 2*re*(m*cosh-iq)
			d := f / (2*vt + 2*re*m*cosh)
			u -= d
			if math.Abs(d) < 1e-15 {
				break
			}
		}
		m := math.Exp(u)
		vo = 2 * m * sinh * rl
		return vo + vt/2*logRatio + re*m*sinh, vo
	}
	return func(vi float64) (float64, float64) {
		lo, hi := -2000.0, 2000.0
		for hi-lo > 1e-13*math.Max(1, math.Abs(lo)) {
			mid := (lo + hi) / 2
			if mid == lo || mid == hi {
				break
			}
			if v, _ := at(mid); v < vi {
				lo = mid
			} else {
				hi = mid
			}
		}
		l := (lo + hi) / 2
		const h = 1e-4
		v1, o1 := at(l - h)
		v2, o2 := at(l + h)
		_, vo := at(l)
		return vo, (o2 - o1) / (v2 - v1)
	}
}

// THD from harmonics 3 to 39, in percent, of the voltage-driven pair with RE 0.22
// ohm, RL 8 ohm, VT 25.852 mV, from the implicit form of the pair at high
// precision (B. M. Oliver, Hewlett-Packard Journal, February 1971, for the
// condition IQ·RE = VT).
func TestPairTHD(t *testing.T) {
	const re, rl, vt = 0.22, 8, 25.852e-3
	for bias, want := range map[float64]map[float64]float64{
		0.1: {1: 0.83049, 4: 0.62189, 20: 0.24197},
		0.5: {1: 0.0026120, 4: 0.070449, 20: 0.0970041},
		1:   {1: 0.0073505, 4: 0.0614436, 20: 0.0265637},
		2:   {1: 0.0019330, 4: 0.036975, 20: 0.0739530},
	} {
		law := fittedLaw(t, pair(bias*vt/re, re, rl, vt), 22)
		for peak, percent := range want {
			lines := lawLines(law, peak)
			sum := 0.0
			for n := 3; n <= 39; n += 2 {
				h := real(lines[n]) / real(lines[1])
				sum += h * h
			}
			near(t, "THD in percent", 100*math.Sqrt(sum), percent, 2e-5)
		}
	}
}

// TestWeightedTHDOfOneHarmonic weighs a law that makes a third harmonic alone, 1 %
// by the third Chebyshev polynomial: of a 400 Hz tone it lies at 1.2 kHz, and of a
// 267 Hz tone at 800 Hz, where the 468 network's table has -1.9 dB (ITU-R
// BS.468-4, Table 1, tolerance 0.55 dB).
func TestWeightedTHDOfOneHarmonic(t *testing.T) {
	law, err := shape.Fit(func(x float64) (y, slope float64, err error) {
		return x + 0.01*(4*x*x*x-3*x), 1 + 0.01*(12*x*x-3), nil
	}, -2, 2, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	p := LawTone(law, 800.0/3, 1)
	if math.Abs(p.THD-0.01) > 1e-6 {
		t.Errorf("THD %g, want 0.01", p.THD)
	}
	if got := 20 * math.Log10(p.WeightedTHD()/0.01); math.Abs(got+1.9) > 0.55 {
		t.Errorf("weighted by %g dB at 800 Hz, want -1.9", got)
	}
}
