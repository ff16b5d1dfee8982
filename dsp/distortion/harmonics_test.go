package distortion

import (
	"math"
	"math/rand/v2"
	"testing"
)

// play returns n samples of law(A·cos(2π·hertz·t+phase)), band-limited: the
// harmonics of the law up to half the rate, from its Fourier coefficients.
func play(n int, rate, hertz, phase float64, coefficients []float64) []float64 {
	x := make([]float64, n)
	for k, c := range coefficients {
		if float64(k)*hertz >= rate/2 {
			break
		}
		for i := range x {
			x[i] += c * math.Cos(float64(k)*(2*math.Pi*hertz/rate*float64(i)+phase))
		}
	}
	return x
}

func decibels(ratio float64) float64 { return 20 * math.Log10(math.Abs(ratio)) }

// deadBand returns the cosine coefficients of a dead band ±r under a unit
// cosine, orders 0 to 39: Gelb & Vander Velde, Multiple-Input Describing
// Functions, for the fundamental; the harmonics from the same integral.
// The sine series' odd orders change sign by (-1)^((n-1)/2).
func deadBand(r float64) []float64 {
	a := math.Asin(r)
	c := make([]float64, 40)
	c[1] = 1 - 2/math.Pi*(a+math.Sin(2*a)/2)
	for n := 3; n < len(c); n += 2 {
		m := float64(n)
		b := -2 / (math.Pi * m) * (math.Sin((m-1)*a)/(m-1) + math.Sin((m+1)*a)/(m+1))
		if n%4 == 3 {
			b = -b
		}
		c[n] = b
	}
	return c
}

// halfWave returns the cosine coefficients of a half-wave rectified cosine:
// 1/π, 1/2, then 2(-1)^(k+1)/(π(4k²-1)) at order 2k.
func halfWave() []float64 {
	c := make([]float64, 40)
	c[0], c[1] = 1/math.Pi, 0.5
	for n := 2; n < len(c); n += 2 {
		k := float64(n / 2)
		c[n] = 2 / (math.Pi * (4*k*k - 1))
		if n%4 == 0 {
			c[n] = -c[n]
		}
	}
	return c
}

// exponential returns the cosine coefficients of e^(x cos t): I0(x), 2·In(x), by
// the power series of the modified Bessel functions.
func exponential(x float64) []float64 {
	c := make([]float64, 30)
	for n := range c {
		term := 1.0
		for k := 1; k <= n; k++ {
			term *= x / 2 / float64(k)
		}
		for k := 0; term > c[n]*1e-18; k++ {
			c[n] += term
			term *= x * x / 4 / (float64(k+1) * float64(k+1+n))
		}
		if n > 0 {
			c[n] *= 2
		}
	}
	return c
}

// The laws' coefficients against tabulated values: dead band of r 0.1 and 0.5 and
// half wave by the closed forms above; In(x)/I1(x) from tables
// of the modified Bessel functions (Abramowitz & Stegun, chapter 9).
func TestLawsAreTheTabulatedOnes(t *testing.T) {
	ratio := func(c []float64, n int) float64 { return c[n] / c[1] }
	d1, d5, h, e1, e2 := deadBand(0.1), deadBand(0.5), halfWave(), exponential(1), exponential(2)
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"dead band 0.1 b1", d1[1], 0.8728885716},
		{"dead band 0.1 b3", -ratio(d1, 3), -0.047894192},
		{"dead band 0.1 b5", ratio(d1, 5), -0.027970208},
		{"dead band 0.1 b7", -ratio(d1, 7), -0.019174098},
		{"dead band 0.5 b1", d5[1], 0.391002219},
		{"dead band 0.5 b7", -ratio(d5, 7), 0.025179291},
		{"half wave DC", h[0], 0.3183098862},
		{"half wave 2", h[2], 0.2122065908},
		{"half wave 4", -h[4], 0.0424413182},
		{"half wave 6", h[6], 0.0181891364},
		{"exponential 1, 2", ratio(e1, 2), 0.2401937239},
		{"exponential 1, 3", ratio(e1, 3), 0.03922510452},
		{"exponential 1, 5", ratio(e1, 5), 0.0004803305},
		{"exponential 2, 2", ratio(e2, 2), 0.4331274267},
		{"exponential 2, 3", ratio(e2, 3), 0.1337451466},
		{"exponential 2, 5", ratio(e2, 5), 0.0061771983},
	} {
		if math.Abs(c.got-c.want) > 6e-10 {
			t.Errorf("%s: %.10g, want %.10g", c.name, c.got, c.want)
		}
	}
}

var laws = map[string][]float64{
	"dead band 0.05": deadBand(0.05), "dead band 0.1": deadBand(0.1), "dead band 0.2": deadBand(0.2),
	"dead band 0.5": deadBand(0.5), "half wave": halfWave(), "e^cos": exponential(1), "e^(2 cos)": exponential(2),
}

// Harmonics down to -120 dB re the fundamental within 0.01 dB when a whole number
// of cycles is captured and 0.05 dB at any frequency, and so are their signs.
func TestHarmonicsOfClosedForms(t *testing.T) {
	const rate, n = 48000, 48000
	for name, law := range laws {
		for hertz, tolerance := range map[float64]float64{1000: 0.01, 997.1234: 0.05, 440.01: 0.05, 61.7: 0.05} {
			tone, err := Harmonics(play(n, rate, hertz, 0.7, law), rate)
			if err != nil {
				t.Fatal(name, hertz, err)
			}
			if e := math.Abs(tone.Frequency/hertz - 1); e > 1e-9 {
				t.Errorf("%s at %g Hz: frequency off by %.2g", name, hertz, e)
			}
			if e := math.Abs(tone.DC - law[0]); e > 1e-8 {
				t.Errorf("%s at %g Hz: DC %v, want %v", name, hertz, tone.DC, law[0])
			}
			for _, h := range tone.Harmonics {
				want := law[h.Order] / law[1]
				if math.Abs(want) < 1e-6 {
					continue
				}
				got := real(h.Value) / tone.Fundamental.Amplitude()
				if e := decibels(got / want); !(math.Abs(e) < tolerance) || got*want < 0 {
					t.Errorf("%s at %g Hz, order %d: %.8g, want %.8g (%.4f dB)", name, hertz, h.Order, got, want, e)
				}
			}
		}
	}
}

// THD of the dead band to the digits of the closed form, from those orders that
// the fit takes: 3 to 19 against the same sum.
func TestTHDOfDeadBand(t *testing.T) {
	// All orders, from Parseval: the mean square of the dead band's output less
	// the fundamental's. Half-wave symmetry leaves odd orders only.
	all := map[float64]float64{0.05: 0.0310333984, 0.1: 0.0626751016, 0.2: 0.128414917, 0.5: 0.362808194}
	for r, want := range all {
		law := deadBand(r)
		tone, err := Harmonics(play(48000, 48000, 997, 0, law), 48000)
		if err != nil {
			t.Fatal(err)
		}
		partial := 0.0
		for n := 3; n <= MaxOrder; n += 2 {
			partial += law[n] * law[n] / (law[1] * law[1])
		}
		got := tone.THDF()
		if math.Abs(got.Value/math.Sqrt(partial)-1) > 1e-6 {
			t.Errorf("r %g: THD_F %v, orders to 20 give %v", r, got.Value, math.Sqrt(partial))
		}
		if short := got.Value / want; short > 1 || short < 0.97 {
			t.Errorf("r %g: THD_F %v of all orders' %v", r, got.Value, want)
		}
		if f, total := got.Value, tone.THDR().Value; math.Abs(total-f/math.Sqrt(1+f*f)) > 1e-12 {
			t.Errorf("r %g: THD_R %v for THD_F %v", r, total, f)
		}
	}
}

// Definitions of IEC 60268-3, 14.12 on numbers worked by hand: harmonics 0.06 and
// 0.08 of a fundamental 1 give THD_F 0.1 and THD_R 0.1/√1.01; Shorter's n²/4 then
// weighs the second by 1 (0.06) and the fourth by 4 (0.32).
func TestDefinitions(t *testing.T) {
	tone, err := Harmonics(play(48000, 48000, 997, 1, []float64{0, 1, 0.06, 0, 0.08}), 48000)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"THD_F", tone.THDF().Value, 0.1},
		{"THD_R", tone.THDR().Value, 0.1 / math.Sqrt(1.01)},
		{"order-weighted", tone.OrderWeighted().Value, math.Hypot(0.06, 0.32)},
		{"phase", tone.Phase, 1},
	} {
		if math.Abs(c.got-c.want) > 1e-7 {
			t.Errorf("%s: %.9g, want %.9g", c.name, c.got, c.want)
		}
	}
	// Shorter 1950: n²/4 in decibels.
	for order, want := range map[int]float64{2: 0, 3: 7.044, 4: 12.041, 5: 15.918, 7: 21.763, 10: 27.959} {
		if got := decibels(OrderWeight(order)); math.Abs(got-want) > 6e-4 {
			t.Errorf("weight of order %d: %.3f dB, want %.3f", order, got, want)
		}
	}
}

// In noise the errors are those stated: over many records the error over its
// stated standard uncertainty has a mean square near 1.
func TestUncertaintyIsHonest(t *testing.T) {
	const rate, n, runs = 48000, 8192, 200
	r := rand.New(rand.NewPCG(11, 12))
	var frequency, fundamental, third, thd float64
	law := []float64{0, 0.5, 0, 0.01}
	for range runs {
		hertz := 500 + 1500*r.Float64()
		x := play(n, rate, hertz, 6*r.Float64(), law)
		for i := range x {
			x[i] += 0.003 * r.NormFloat64()
		}
		tone, err := Harmonics(x, rate)
		if err != nil {
			t.Fatal(err)
		}
		h := tone.Harmonics[1]
		frequency += math.Pow((tone.Frequency-hertz)/tone.FrequencySigma, 2) / runs
		fundamental += math.Pow((tone.Fundamental.Amplitude()-0.5)/tone.Fundamental.Sigma, 2) / runs
		third += math.Pow((real(h.Value)-0.01)/h.Sigma, 2) / runs
		if f := tone.THDF(); f.Value > f.Floor {
			thd += math.Pow((math.Sqrt(f.Value*f.Value-f.Floor*f.Floor)-0.02)/f.Sigma, 2) / runs
		}
	}
	for name, got := range map[string]float64{"frequency": frequency, "fundamental": fundamental, "third": third, "THD": thd} {
		t.Logf("%s: mean square of error over uncertainty %.2f", name, got)
		// 200 runs leave the mean square of a unit normal within ±0.4 at four sigma.
		if got < 0.6 || got > 1.4 {
			t.Errorf("%s: mean square of error over stated uncertainty %.2f, want about 1", name, got)
		}
	}
}
