package distortion

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Thirty tones, white noise and ten products between them: what lies between the
// tones, split into what is even and what stands out.
func TestMultitone(t *testing.T) {
	const rate, n, sigma = 48000, 1 << 17, 2e-4
	var lines []line
	var hertz []float64
	tones := 0.0
	for k := range 30 {
		f := 31.5 * math.Pow(10, float64(k)/11)
		hertz = append(hertz, f)
		lines = append(lines, line{f, 0.03})
		tones += 0.03 * 0.03 / 2
	}
	products := 0.0
	for k := range 10 {
		lines = append(lines, line{1111.7 + 1500.3*float64(k), 1e-4})
		products += 1e-8 / 2
	}
	x := mix(n, rate, lines...)
	r := rand.New(rand.NewPCG(8, 8))
	for i := range x {
		x[i] += sigma * r.NormFloat64()
	}
	s, err := Detect(x, rate)
	if err != nil || s.Kind != Multitone || len(s.Tones) != 30 {
		t.Fatalf("detected %v with %d tones (%v), want 30", s.Kind, len(s.Tones), err)
	}
	m, err := MultitoneProducts(x, rate, s.Tones)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range m.Tones {
		if math.Abs(p.Frequency/hertz[i]-1) > 1e-5 || math.Abs(p.Amplitude-0.03) > 5*p.Sigma {
			t.Errorf("tone %d: %v at %v Hz, want 0.03 at %v", i, p.Amplitude, p.Frequency, hertz[i])
		}
	}
	noise := sigma * sigma * (BandHigh - BandLow) / (rate / 2)
	near := func(name string, got, power, tolerance float64) {
		if want := math.Sqrt(power / tones); math.Abs(got/want-1) > tolerance {
			t.Errorf("%s %v, want %v", name, got, want)
		}
	}
	near("rest", m.Rest.Value, noise+products, 0.02)
	near("noise", m.Noise.Value, noise, 0.03)
	near("distortion", m.Distortion.Value, products, 0.1)
}
