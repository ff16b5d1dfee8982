package distortion

import (
	"math"
	"math/rand/v2"
	"testing"
)

func tone(n int, rate, hertz, amplitude float64) []float64 {
	return play(n, rate, hertz, 0.3, []float64{0, amplitude})
}

// dithered reduces x to integers of the given bits with triangular dither of two
// steps peak to peak: noise of a quarter of a step squared (Lipshitz, Wannamaker
// & Vanderkooy, JAES 40, 1992).
func dithered(x []float64, bits int, r *rand.Rand) []float64 {
	step := math.Ldexp(1, 1-bits)
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = step * math.Round(v/step+r.Float64()+r.Float64()-1)
	}
	return y
}

// floatPower returns the power of rounding a sine of amplitude a to float32: a
// twelfth of the squared step of each binade, weighted with the share of time the
// sine spends in it.
func floatPower(a float64) float64 {
	power := 0.0
	for e := 0; e > -40; e-- {
		low, high := math.Ldexp(1, e-1), math.Ldexp(1, e)
		share := 2 / math.Pi * (math.Asin(min(1, high/a)) - math.Asin(min(1, low/a)))
		step := math.Ldexp(1, e-1-23)
		power += share * step * step / 12
	}
	return power
}

// What a clean tone reads is its format's own noise: within 0.3 dB of theory by
// the fit and by the notch, and nothing for a tone in double precision.
func TestTHDNFloorOfCleanTones(t *testing.T) {
	const rate, n, amplitude = 48000, 1 << 18, 0.89
	r := rand.New(rand.NewPCG(21, 22))
	clean := tone(n, rate, 997, amplitude)
	single := make([]float64, n)
	for i, v := range clean {
		single[i] = float64(float32(v))
	}
	for _, c := range []struct {
		name  string
		x     []float64
		power float64
	}{
		{"16 bits", dithered(clean, 16, r), math.Ldexp(1, -30) / 4},
		{"24 bits", dithered(clean, 24, r), math.Ldexp(1, -46) / 4},
		{"float32", single, floatPower(amplitude)},
	} {
		noise := c.power * (BandHigh - BandLow) / (rate / 2)
		want := 10 * math.Log10(noise/(noise+amplitude*amplitude/2))
		m, err := Harmonics(c.x, rate)
		if err != nil {
			t.Fatal(err)
		}
		fit := float64(m.THDN().Level())
		f, err := NotchTHDN(c.x, rate, m.Frequency, MaxNotchQ)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: theory %.2f dB, fit %.2f, notch %.2f", c.name, want, fit, f.Level())
		if math.Abs(fit-want) > 0.3 {
			t.Errorf("%s: THD+N by fit %.2f dB, theory %.2f", c.name, fit, want)
		}
		if math.Abs(float64(f.Level())-want) > 0.3 {
			t.Errorf("%s: THD+N by notch %.2f dB, theory %.2f", c.name, f.Level(), want)
		}
	}
	for _, hertz := range []float64{997, 1000, 61.03, 6789.1} {
		m, err := Harmonics(tone(n, rate, hertz, amplitude), rate)
		if err != nil {
			t.Fatal(err)
		}
		f, err := NotchTHDN(tone(n, rate, hertz, amplitude), rate, m.Frequency, 2)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("float64 at %g Hz: fit %.1f dB, notch %.1f", hertz, m.THDN().Level(), f.Level())
		if m.THDN().Level() > -170 || f.Level() > -170 {
			t.Errorf("float64 at %g Hz: THD+N %.1f dB by fit, %.1f by notch, want at most -170", hertz, m.THDN().Level(), f.Level())
		}
	}
}

// AES17's definition on numbers worked by hand: a harmonic of 0.03 and noise of
// the power of a harmonic of 0.04 read 0.05/√(1+0.05²) re the total.
func TestTHDNIsReTheTotal(t *testing.T) {
	const rate, n = 48000, 1 << 18
	r := rand.New(rand.NewPCG(31, 32))
	x := play(n, rate, 1234.5, 0, []float64{0.2, 1, 0, 0.03})
	// White over half the rate, so scaled up to have the power in band.
	sigma := 0.04 / math.Sqrt2 * math.Sqrt(rate/2/float64(BandHigh-BandLow))
	for i := range x {
		x[i] += sigma * r.NormFloat64()
	}
	m, err := Harmonics(x, rate)
	if err != nil {
		t.Fatal(err)
	}
	want := 0.05 / math.Sqrt(1.0025)
	f := m.THDN()
	if math.Abs(f.Value-want) > 5*f.Sigma || f.Sigma > 0.005*want {
		t.Errorf("THD+N %v ± %v, want %v", f.Value, f.Sigma, want)
	}
	if got := m.Noise(); math.Abs(got/(0.04/math.Sqrt2)-1) > 0.01 {
		t.Errorf("noise %v RMS, want %v", got, 0.04/math.Sqrt2)
	}
}

// A notch at f passes 2f by 3/√(9+(2/Q)²): closed form of the second-order notch
// with the bilinear warping of a frequency far below the rate.
func TestNotchTakesPartOfTheSecondHarmonic(t *testing.T) {
	x := play(1<<17, 192000, 1000, 0, []float64{0, 1, 0.01})
	for _, q := range []float64{MinNotchQ, 2, MaxNotchQ} {
		f, err := NotchTHDN(x, 192000, 1000, q)
		if err != nil {
			t.Fatal(err)
		}
		want := 0.01 / math.Hypot(1, 0.01) * 3 / math.Sqrt(9+4/(q*q))
		if math.Abs(f.Value/want-1) > 0.002 {
			t.Errorf("Q %g: %v, want %v", q, f.Value, want)
		}
	}
	for _, q := range []float64{1, 3.1, math.NaN()} {
		if _, err := NotchTHDN(x, 192000, 1000, q); err == nil {
			t.Errorf("Q %g was accepted", q)
		}
	}
	if _, err := NotchTHDN(x[:3000], 192000, 20, 3); err == nil {
		t.Error("a record too short for the notch was accepted")
	}
}

// Weighted figures from lines whose weights the tables give: 468 is +12.2 dB at
// 6.3 kHz (ITU-R BS.468-4, table 1), A is -19.1 dB at 100 Hz (IEC 61672-1).
func TestWeightedFigures(t *testing.T) {
	const rate, n = 48000, 1 << 17
	m, err := Harmonics(play(n, rate, 315, 0, []float64{1: 1, 20: 0.001}), rate)
	if err != nil {
		t.Fatal(err)
	}
	if got := float64(m.WeightedTHD().Level()); math.Abs(got-(-60+12.2)) > 0.01 {
		t.Errorf("weighted THD of a line at 6.3 kHz, -60 dB: %.3f dB, want -47.8", got)
	}
	x := tone(2*n, rate, 1003, 1)
	for i, v := range tone(2*n, rate, 100, 0.001) {
		x[i] += v
	}
	if m, err = Harmonics(x, rate); err != nil {
		t.Fatal(err)
	}
	if got := decibels(m.NoiseA() / (0.001 / math.Sqrt2)); math.Abs(got+19.1) > 0.1 {
		t.Errorf("A-weighted noise of a line at 100 Hz: %.3f dB re the line, want -19.1", got)
	}
	if got := decibels(m.Noise468() / (0.001 / math.Sqrt2)); math.Abs(got+19.8) > 0.5 {
		t.Errorf("468 quasi-peak of a line at 100 Hz: %.3f dB re the line, want -19.8", got)
	}
}
