package network

import (
	"math"
	"testing"
)

const roomVT = 0.025852

// resistorPair is a voltage-driven ideal pair with emitter resistors, biased to
// IQ RE = ratio VT.
func resistorPair(re, rl, rail, ratio float64) idealPair {
	const saturation = 1e-15
	iq := ratio * roomVT / re
	p := newIdealPair(rail, re, rl, saturation, roomVT)
	p.bias(2 * (roomVT*math.Log1p(iq/saturation) + iq*re))
	return p
}

// implicitPair solves the ideal pair's own equations, without the network
// package:
//
//	VT ln(iN iP/IQ^2) + RE (iN + iP - 2 IQ) = 0
//	vi - vo = VT/2 ln(iN/iP) + RE (iN - iP)/2
//
// It is given iN and returns input and output.
func implicitPair(re, rl, iq, iN float64) (in, out float64) {
	lo, hi := -800.0, 800.0 // ln(iP/IQ)
	for range 200 {
		y := (lo + hi) / 2
		iP := iq * math.Exp(y)
		if roomVT*(math.Log(iN/iq)+y)+re*(iN+iP-2*iq) > 0 {
			hi = y
		} else {
			lo = y
		}
	}
	iP := iq * math.Exp(lo)
	out = rl * (iN - iP)
	return out + roomVT/2*(math.Log(iN/iq)-lo) + re*(iN-iP)/2, out
}

// TestImplicitForm holds the solved network to the implicit closed form of the
// ideal pair over its whole swing and five biases.
func TestImplicitForm(t *testing.T) {
	const re, rl = 0.22, 8
	for _, ratio := range []float64{0.001, 0.1, 0.5, 1, 2} {
		p := resistorPair(re, rl, 60, ratio)
		iq := ratio * roomVT / re
		for x := -9.0; x < 7; x += 0.37 {
			iN := iq * math.Exp(x)
			if iN > 2.5 {
				break
			}
			in, want := implicitPair(re, rl, iq, iN)
			got, _ := p.at(t, in)
			within(t, "output", got, want, 2e-9)
		}
	}
}

// TestOptimumBias checks the output resistance of the pair against B. M. Oliver's
// condition (Hewlett-Packard Journal, February 1971): at IQ RE = kT/q it is RE
// at rest and at full swing. The figures between were computed from the closed
// form: it peaks at 1.202558 RE where the load current is 3.86 VT/RE.
func TestOptimumBias(t *testing.T) {
	const re, rl = 0.22, 8
	rout := func(p idealPair, in float64) (ohms, current float64) {
		out, gain := p.at(t, in)
		return rl * (1/gain - 1), out / rl
	}
	p := resistorPair(re, rl, 400, 1)
	rest, _ := rout(p, 0)
	within(t, "Rout at rest", rest/re, 1, 1e-9)
	far, current := rout(p, 300)
	within(t, "Rout far out, where one device's VT/iN is left over", far/re, 1+roomVT/(re*current), 2e-5)

	peak, at := maximumRout(p, rout)
	within(t, "peak of Rout", peak/re, 1.202558, 5e-7)
	within(t, "load current there", at/(roomVT/re), 3.86, 5e-3)
	_, gain := p.at(t, 0)
	within(t, "gain at rest", gain, 0.97324, 5e-6)
	within(t, "minimum gain", rl/(rl+peak), 0.96799, 5e-6)

	over := resistorPair(re, rl, 400, 2)
	rest, _ = rout(over, 0)
	within(t, "over-biased at rest", rest/re, 0.75, 1e-9)
	peak, _ = maximumRout(over, rout)
	within(t, "over-biased peak", peak/re, 1.11412, 5e-6)

	under := resistorPair(re, rl, 400, 0.5)
	rest, _ = rout(under, 0)
	within(t, "under-biased at rest", rest/re, 1.5, 1e-9)
	peak, _ = maximumRout(under, rout)
	within(t, "under-biased has no bump", peak/re, 1.5, 1e-9)
}

// maximumRout scans the swing for the maximum output resistance and closes in.
func maximumRout(p idealPair, rout func(idealPair, float64) (float64, float64)) (peak, current float64) {
	best := 0.0
	for step := 1.0; step > 1e-6; step /= 10 {
		centre := best
		for i := -20; i <= 20; i++ {
			in := max(0, centre+float64(i)*step)
			if r, c := rout(p, in); r > peak {
				peak, current, best = r, c, in
			}
		}
	}
	return peak, current
}

// TestDistortionGrid checks the total harmonic distortion, harmonics 3 to 39, of
// the voltage-driven pair, RE 0.22, RL 8, VT 25.852 mV (testdata/grid.py
// recomputes them).
func TestDistortionGrid(t *testing.T) {
	ratios := []float64{0.1, 0.5, 1, 2}
	grid := map[float64][]float64{ // percent by input peak
		1:  {0.83049, 0.0026120, 0.0073505, 0.0019330},
		4:  {0.62189, 0.070449, 0.0614436, 0.036975},
		20: {0.24197, 0.0970041, 0.0265637, 0.0739530},
	}
	digits := map[float64][]float64{ // half a unit of the last digit given
		1:  {5e-6, 5e-8, 5e-8, 5e-8},
		4:  {5e-6, 5e-7, 5e-8, 5e-7},
		20: {5e-6, 5e-8, 5e-8, 5e-8},
	}
	for peak, row := range grid {
		for i, want := range row {
			p := resistorPair(0.22, 8, 60, ratios[i])
			got := 100 * distortion(t, p, peak)
			if math.Abs(got-want) > digits[peak][i] {
				t.Errorf("peak %g V, IQ RE = %g VT: THD %.8f %%, want %.8f", peak, ratios[i], got, want)
			}
		}
	}
}

// distortion returns the THD of odd harmonics 3 to 39 re the fundamental. The
// law is odd, so a quarter wave at midpoints holds everything.
func distortion(t *testing.T, p idealPair, peak float64) float64 {
	const quarter = 4096
	var bins [40]float64
	for i := range quarter {
		phase := math.Pi / 2 * (float64(i) + 0.5) / quarter
		out, _ := p.at(t, peak*math.Sin(phase))
		for n := 1; n < len(bins); n += 2 {
			bins[n] += out * math.Sin(float64(n)*phase)
		}
	}
	sum := 0.0
	for n := 3; n < len(bins); n += 2 {
		sum += bins[n] * bins[n]
	}
	return math.Sqrt(sum) / bins[1]
}
