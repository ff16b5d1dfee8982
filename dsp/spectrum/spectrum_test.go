package spectrum

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/mjibson/go-dsp/fft"
)

// A sine of peak 1 on a line reads 0 dB, DC of 0.5 -6.02 dB, half the rate too.
func TestSpectrumIsCalibrated(t *testing.T) {
	const n, rate = 1024, 48000
	for _, w := range windows {
		x := make([]float64, n)
		for i := range x {
			x[i] = 0.5 + math.Sin(2*math.Pi*100*float64(i)/n+0.3) + 0.25*math.Pow(-1, float64(i))
		}
		s := Of(x, rate, w)
		for line, want := range map[int]float64{0: 0.5, 100: 1, n / 2: 0.25} {
			if got := math.Sqrt(s.Power[line]); math.Abs(got-want) > 1e-6 {
				t.Errorf("%v: line %d amplitude %v, want %v", w, line, got, want)
			}
		}
		// Mean square: 0.5² + 1²/2 + 0.25².
		if got, want := s.MeanSquare(0, rate/2), 0.25+0.5+0.0625; math.Abs(got-want) > 0.2 {
			t.Errorf("%v: mean square %v, want about %v", w, got, want)
		}
		middle := s.MeanSquare(s.Frequency(50), s.Frequency(150))
		if math.Abs(middle-0.5) > 1e-6 {
			t.Errorf("%v: mean square of the sine's band %v, want 0.5", w, middle)
		}
	}
}

// White noise of variance s² has the one-sided density 2s²/rate and fills a band
// in proportion: a definition, to four standard errors.
func TestAverageOfWhiteNoise(t *testing.T) {
	const rate, sigma = 48000.0, 0.1
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, 1<<19)
	for i := range x {
		x[i] = sigma * r.NormFloat64()
	}
	for _, w := range windows {
		a := NewAverage(rate, 1024, w)
		for chunk := range slices.Chunk(x, 999) {
			a.Add(chunk)
		}
		s, ok := a.Spectrum()
		if !ok {
			t.Fatal("no spectrum")
		}
		want := sigma * sigma * 10000 / (rate / 2)
		got := s.MeanSquare(5000, 15000)
		// 2·bandwidth·time independent values at most.
		relative := 4 / math.Sqrt(10000*float64(len(x))/rate)
		if math.Abs(got/want-1) > relative {
			t.Errorf("%v: 5 to 15 kHz holds %v, want %v within %.2g", w, got, want, relative)
		}
		if got := s.Density(300) * rate / 2 / (sigma * sigma); math.Abs(got-1) > 0.3 {
			t.Errorf("%v: density %v of the true one", w, got)
		}
	}
}

func TestAverageEqualsOneShot(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	x := make([]float64, 2048)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	one := Of(x, 48000, BlackmanHarris7)
	a := NewAverage(48000, 2048, BlackmanHarris7)
	if _, ok := a.Spectrum(); ok {
		t.Error("a spectrum of nothing")
	}
	a.Add(x)
	s, _ := a.Spectrum()
	for i := range one.Power {
		if math.Abs(s.Power[i]-one.Power[i]) > 1e-14 {
			t.Fatalf("line %d: %v by gonum, %v by go-dsp", i, s.Power[i], one.Power[i])
		}
	}
}

func TestStrongestReadsBetweenLines(t *testing.T) {
	const n, rate = 8192, 48000
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 997.3 / rate * float64(i))
	}
	s := Of(x, rate, BlackmanHarris4)
	_, hertz, ok := s.Strongest(20, 20000)
	if !ok || math.Abs(hertz-997.3) > 0.02*s.LineWidth() {
		t.Errorf("strongest at %v Hz (%v), want 997.3", hertz, ok)
	}
	if _, _, ok := Of(make([]float64, n), rate, Hann).Strongest(20, 20000); ok {
		t.Error("silence has no strongest line")
	}
	if _, _, ok := s.Strongest(30000, 40000); ok {
		t.Error("a band beyond half the rate has no line")
	}
}

// The transform of an impulse at sample k is e^(-2πikn/N) exactly. go-dsp gets it
// to about -315 dB at a power of two and much worse elsewhere, which is why Of
// refuses other lengths.
func TestTransformOfGoDSP(t *testing.T) {
	if got := impulseError(65536); got > -300 {
		t.Errorf("error at 65536 samples %.0f dB, want below -300", got)
	}
	if got := impulseError(48000); got < -290 {
		t.Errorf("error at 48000 samples only %.0f dB: other lengths could be allowed", got)
	}
	mustPanic(t, func() { Of(make([]float64, 48000), 48000, Hann) })
	mustPanic(t, func() { Of(make([]float64, 8), 48000, Hann) })
}

func impulseError(n int) float64 {
	const at = 1237
	x := make([]float64, n)
	x[at] = 1
	sum := 0.0
	for k, got := range fft.FFTReal(x) {
		want := cmplx.Rect(1, -2*math.Pi*float64(k*at%n)/float64(n))
		sum += square(got - want)
	}
	return 10 * math.Log10(sum/float64(n))
}
