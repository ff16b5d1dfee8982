package distortion

import (
	"math"
	"math/rand/v2"
	"testing"
)

// line is one sinusoid of a synthetic record.
type line struct{ hertz, amplitude float64 }

// mix returns n samples of lines with scattered phases.
func mix(n int, rate float64, lines ...line) []float64 {
	x := make([]float64, n)
	for k, l := range lines {
		for i := range x {
			x[i] += l.amplitude * math.Cos(2*math.Pi*l.hertz/rate*float64(i)+float64(k*k))
		}
	}
	return x
}

func measure2(t *testing.T, x []float64, rate, low, high float64) *TwoTones {
	t.Helper()
	m, err := Products2(x, rate, low, high)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func check(t *testing.T, name string, f Figure, err error, want float64) {
	t.Helper()
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	if math.Abs(f.Value-want) > 1e-6 {
		t.Errorf("%s: %.9g, want %.9g", name, f.Value, want)
	}
}

// IEC 60268-3, 14.12.9, arithmetic: f2 of 0.25 with sidebands 0.02 and 0.02 of
// second and 0.01 and 0.01 of third order gives 0.16 and 0.08, at 250 Hz / 8 kHz
// and at 60 Hz / 7 kHz, and with a clock 200 ppm off.
func TestModulationDistortion(t *testing.T) {
	const rate = 48000
	for _, tones := range [][2]float64{{250, 8000}, {60, 7000}, {250 * 1.0002, 8000 * 1.0002}} {
		a, b := tones[0], tones[1]
		x := mix(2*rate, rate, line{a, 1}, line{b, 0.25}, line{b + a, .02}, line{b - a, .02}, line{b + 2*a, .01}, line{b - 2*a, .01})
		m := measure2(t, x, rate, tones[0], tones[1])
		second, err := m.Modulation(2)
		check(t, "second order", second, err, 0.16)
		third, err := m.Modulation(3)
		check(t, "third order", third, err, 0.08)
	}
}

// IEC 60268-3, 14.12.10: tones of 0.5 with products 0.03 at f2-f1, 0.02 at 2f2-f1
// and 2f1-f2 give 0.03 and 0.04 re the sum; 14.12.11: tones of 0.5 at 8 and
// 11.95 kHz with 0.02 at 3950 and 0.03 at 4050 Hz give √(0.02²+0.03²).
func TestDifferenceFrequencyDistortion(t *testing.T) {
	const rate = 48000
	for _, tones := range [][2]float64{{19000, 20000}, {14000, 15000}, {4000, 4080}} {
		a, b := tones[0], tones[1]
		x := mix(rate, rate, line{a, .5}, line{b, .5}, line{b - a, .03}, line{2*b - a, .02}, line{2*a - b, .02})
		m := measure2(t, x, rate, a, b)
		second, err := m.Difference(2)
		check(t, "second order", second, err, 0.03)
		third, err := m.Difference(3)
		check(t, "third order", third, err, 0.04)
	}
	x := mix(rate, rate, line{8000, .5}, line{11950, .5}, line{3950, .02}, line{4050, .03})
	total, err := measure2(t, x, rate, 8000, 11950).TotalDifference()
	check(t, "total", total, err, 0.0360555128)
}

// A cubic law x + a3·x³ on two tones of amplitude A leaves products of ¾·a3·A³ at
// 2f1-f2 and 2f2-f1 (any text on intermodulation): a3 0.01, A 0.5 gives 9.375e-4.
func TestCubicLaw(t *testing.T) {
	const rate = 48000
	x := mix(rate, rate, line{3000.7, .5}, line{3401.9, .5})
	for i, v := range x {
		x[i] = v + 0.01*v*v*v
	}
	m := measure2(t, x, rate, 3000.7, 3401.9)
	for _, p := range m.Products {
		if p.N1 == 2 && p.N2 == -1 || p.N1 == -1 && p.N2 == 2 {
			// In phase with both crests, as a law without memory leaves it.
			if math.Abs(p.Amplitude-9.375e-4) > 1e-9 || math.Abs(real(p.Value)-9.375e-4) > 1e-9 {
				t.Errorf("product at %.1f Hz: %v, at the crests %v, want 9.375e-4", p.Frequency, p.Amplitude, p.Value)
			}
		}
	}
}

// A product out of band is reported, not left out of a sum.
func TestProductOutOfBand(t *testing.T) {
	const rate = 44100
	m := measure2(t, mix(rate, rate, line{20000, .4}, line{21500, .4}), rate, 20000, 21500)
	if _, err := m.Difference(3); err == nil {
		t.Error("2f2-f1 at 23 kHz lies beyond half the rate and gave no error")
	}
	if _, err := m.Difference(2); err != nil {
		t.Error(err)
	}
}

func TestTwoTonesRefusals(t *testing.T) {
	const rate = 48000
	x := mix(4800, rate, line{1000, .5}, line{1020, .5})
	if _, err := Products2(x, rate, 1000, 1020); err == nil {
		t.Error("two cycles of the difference were accepted")
	}
	r := rand.New(rand.NewPCG(1, 1))
	noise := make([]float64, rate)
	for i := range noise {
		noise[i] = 0.1 * r.NormFloat64()
	}
	if m, err := Products2(noise, rate, 250, 8000); err == nil {
		t.Errorf("noise was taken for two tones: %+v", m.Low)
	}
	if _, err := Products2(x, rate, 8000, 250); err == nil {
		t.Error("descending tones were accepted")
	}
}

// IEC 60268-3, 14.12.8: nine products of the 3.15 kHz square and the 15 kHz sine,
// root sum of squares re the sine, at the frequencies the standard lists.
func TestDynamicIntermodulation(t *testing.T) {
	const rate = 96000
	want := []float64{750, 2400, 3900, 5550, 7050, 8700, 10200, 11850, 13350}
	lines := []line{{15000, 0.2}}
	sum := 0.0
	for i, hertz := range want {
		a := 0.001 * float64(i+1)
		lines = append(lines, line{hertz, a})
		sum += a * a
	}
	for n := 1; n*squareHertz < 30000; n += 2 {
		lines = append(lines, line{float64(n) * squareHertz, 0.8 / float64(n)})
	}
	d, err := DynamicIntermodulation(mix(rate, rate, lines...), rate)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range d.Products {
		if math.Abs(p.Frequency-want[i]) > 1e-3 || math.Abs(p.Amplitude-0.001*float64(i+1)) > 1e-7 {
			t.Errorf("product %d: %v at %v Hz, want %v at %v", i, p.Amplitude, p.Frequency, 0.001*float64(i+1), want[i])
		}
	}
	check(t, "nine products", d.Figure(), nil, math.Sqrt(sum)/0.2)
	if _, err := DynamicIntermodulation(mix(rate, 22050, lines[:1]...), 22050); err == nil {
		t.Error("a rate too low for the sine was accepted")
	}
}

func TestProductNames(t *testing.T) {
	for want, n := range map[string][2]int{
		"f2-f1": {-1, 1}, "f2+f1": {1, 1}, "2f2-f1": {-1, 2}, "2f1-f2": {2, -1}, "3f1": {3, 0}, "2f2": {0, 2}, "f2-2f1": {-2, 1},
	} {
		if got := ProductName(n[0], n[1]); got != want {
			t.Errorf("%v: %q, want %q", n, got, want)
		}
	}
}
