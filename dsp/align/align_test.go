package align

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"
)

// source is a signal whose value is known at any time: sinusoids scattered over
// the band with a falling spectrum.
type source struct{ omega, amplitude, phase []float64 }

func newSource(r *rand.Rand, lines int, top float64) *source {
	s := &source{}
	for range lines {
		hertz := 40 * math.Pow(top/40, r.Float64())
		s.omega = append(s.omega, 2*math.Pi*hertz/48000)
		s.amplitude = append(s.amplitude, 0.3/math.Sqrt(float64(lines))*math.Sqrt(1000/(hertz+300)))
		s.phase = append(s.phase, 2*math.Pi*r.Float64())
	}
	return s
}

// sample returns gain·s(start + step·n) for n samples.
func (s *source) sample(n int, start, step, gain float64) []float64 {
	x := make([]float64, n)
	for k, omega := range s.omega {
		turn := cmplx.Rect(1, omega*step)
		var z complex128
		for i := range x {
			if i%1024 == 0 {
				z = cmplx.Rect(gain*s.amplitude[k], omega*(start+step*float64(i))+s.phase[k])
			}
			x[i] += imag(z)
			z *= turn
		}
	}
	return x
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// Twenty random cases at 60 dB signal to noise, found without being told: delay
// within 0.001 sample, gain within 0.0005 dB, drift within 0.05 ppm.
func TestTwentyRandomCases(t *testing.T) {
	const n = 3 * 48000
	var worstDelay, worstGain, worstDrift float64
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 99))
		s := newSource(r, 50, 18000)
		delay := 30000*r.Float64() - 10000
		drift := 200e-6 * (r.Float64() - 0.5)
		gain := math.Pow(10, (12*r.Float64()-9)/20)
		if r.IntN(2) == 1 {
			gain = -gain
		}
		reference := s.sample(n, 0, 1, 1)
		capture := s.sample(n, -delay, 1+drift, gain)
		noise := rms(capture) / 1000
		dc := 0.01 * r.NormFloat64()
		for i := range capture {
			capture[i] += noise*r.NormFloat64() + dc
		}
		a, err := Align(reference, capture, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		eDelay, eDrift := math.Abs(a.Delay-delay), math.Abs(a.Drift-drift)*1e6
		eGain := math.Abs(20 * math.Log10(a.Gain/gain)) // NaN for the wrong polarity
		worstDelay, worstDrift, worstGain = max(worstDelay, eDelay), max(worstDrift, eDrift), max(worstGain, eGain)
		if !(eDelay < 1.05e-4) || !(eGain < 6e-5) || !(eDrift < 0.0013) {
			t.Errorf("seed %d: delay off by %.2g samples, gain by %.2g dB, drift by %.2g ppm", seed, eDelay, eGain, eDrift)
		}
		if eDelay > 6*a.DelaySigma || eDrift > 6e6*a.DriftSigma {
			t.Errorf("seed %d: delay off by %.2g ± %.2g, drift by %.2g ± %.2g ppm", seed, eDelay, a.DelaySigma, eDrift, a.DriftSigma*1e6)
		}
		if got := a.ResidualRatio(); math.Abs(20*math.Log10(got)+60) > 0.1 {
			t.Errorf("seed %d: residual %.3f dB, the noise is at -60", seed, 20*math.Log10(got))
		}
		if len(a.Warnings) > 0 && delay > 0 && delay < 10000 {
			t.Errorf("seed %d: warnings %q", seed, a.Warnings)
		}
	}
	t.Logf("worst of 20: delay %.2g samples, gain %.2g dB, drift %.2g ppm", worstDelay, worstGain, worstDrift)
}

// Without noise what remains is the interpolation.
func TestInterpolationFloor(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	s := newSource(r, 50, 20000)
	reference, capture := s.sample(48000, 0, 1, 1), s.sample(48000, 123.456, 1+30e-6, 0.7)
	a, err := Align(reference, capture, Options{})
	if err != nil {
		t.Fatal(err)
	}
	floor := 20 * math.Log10(a.ResidualRatio())
	t.Logf("floor %.1f dB", floor)
	if floor > -120 {
		t.Errorf("residual of a perfect capture %.1f dB, want below -120", floor)
	}
}

// Each frequency alone, against its exact value between the samples.
func TestInterpolatorByFrequency(t *testing.T) {
	for _, c := range []struct{ cycles, limit float64 }{{0.01, -130}, {0.2, -130}, {0.4, -110}, {0.45, -110}, {0.46, -105}} {
		x := make([]float64, 400)
		for i := range x {
			x[i] = math.Sin(2 * math.Pi * c.cycles * float64(i))
		}
		worst, worstSlope := 0.0, 0.0
		for p := 150.0; p < 250; p += 0.0371 {
			v, slope := at(x, p)
			worst = max(worst, math.Abs(v-math.Sin(2*math.Pi*c.cycles*p)))
			worstSlope = max(worstSlope, math.Abs(slope-2*math.Pi*c.cycles*math.Cos(2*math.Pi*c.cycles*p)))
		}
		t.Logf("%g of the rate: %.1f dB", c.cycles, 20*math.Log10(worst))
		if 20*math.Log10(worst) > c.limit {
			t.Errorf("%g of the rate: error %.1f dB, want %g", c.cycles, 20*math.Log10(worst), c.limit)
		}
		if worstSlope > 0.01 {
			t.Errorf("%g of the rate: slope off by %g", c.cycles, worstSlope)
		}
	}
}

// A known filter and a known cubic law between reference and capture: the filter
// is found and only the cubic's part remains.
func TestLinearResponseAndNonlinearShare(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	reference := make([]float64, 96000)
	// Noise without content near half the rate, where no interpolator is right.
	for i := range reference {
		reference[i] = 0.3 * r.NormFloat64()
	}
	for range 6 {
		for i := len(reference) - 1; i > 0; i-- {
			reference[i] = (reference[i] + reference[i-1]) / 2
		}
	}
	h := []float64{0.02, -0.1, 0.9, 0.2, -0.05}
	capture := make([]float64, len(reference))
	cubic := make([]float64, len(reference))
	for i := 2; i < len(reference)-2; i++ {
		for k, c := range h {
			capture[i] += c * reference[i+2-k]
		}
		cubic[i] = 0.05 * math.Pow(reference[i], 3)
	}
	// The part of the cubic that is not in line with the input: the rest is gain.
	inLine := dot(cubic, reference) / dot(reference, reference)
	pure := make([]float64, len(cubic))
	for i := range pure {
		pure[i] = cubic[i] - inLine*reference[i]
		capture[i] += cubic[i]
	}
	capture = slices.Concat(make([]float64, 3000), capture)
	a, err := Align(reference, capture, Options{LinearTaps: 65})
	if err != nil {
		t.Fatal(err)
	}
	want := rms(pure) / rms(a.Aligned)
	if got := a.NonlinearRatio(); math.Abs(got/want-1) > 0.02 {
		t.Errorf("nonlinear %.5f of the signal, want %.5f", got, want)
	}
	if share := a.NonlinearShare(); share > 0.2 || share < 1e-6 {
		t.Errorf("nonlinear share %.3g of a residual that is mostly linear", share)
	}
	// The response times the gain is the filter, delayed by what delay took out.
	for _, hertz := range []float64{0.001, 0.05, 0.2, 0.3} {
		got := transfer(a.Response, hertz) * complex(math.Abs(a.Gain), 0)
		filter := transfer(h, hertz) + complex(inLine, 0)*cmplx.Rect(1, -2*math.Pi*2*hertz)
		if e := cmplx.Abs(got)/cmplx.Abs(filter) - 1; math.Abs(e) > 0.002 {
			t.Errorf("response at %g of the rate: %.5f, want %.5f", hertz, cmplx.Abs(got), cmplx.Abs(filter))
		}
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

func transfer(h []float64, cycles float64) complex128 {
	sum := complex(0, 0)
	for k, c := range h {
		sum += complex(c, 0) * cmplx.Rect(1, -2*math.Pi*cycles*float64(k))
	}
	return sum
}

// A capture through an unbiased pair (a dead band) is still found.
func TestDistortedCapture(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	s := newSource(r, 60, 15000)
	reference, capture := s.sample(96000, 0, 1, 1), s.sample(96000, -777.25, 1-50e-6, 0.8)
	band := 0.3 * rms(capture)
	for i, v := range capture {
		capture[i] = v - max(-band, min(band, v))
	}
	a, err := Align(reference, capture, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(a.Delay-777.25) > 0.01 || math.Abs(a.Drift+50e-6) > 0.2e-6 {
		t.Errorf("delay %.4f, drift %.3f ppm, want 777.25 and -50", a.Delay, a.Drift*1e6)
	}
}

func TestToneIsAmbiguous(t *testing.T) {
	x := make([]float64, 48000)
	for i := range x {
		x[i] = math.Sin(float64(i) * 0.1)
	}
	a, err := Align(x, x, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Warnings) == 0 || a.ResidualRatio() > 1e-5 {
		t.Errorf("a tone over itself: residual %.2g, warnings %q", a.ResidualRatio(), a.Warnings)
	}
}

// A tone cannot tell a response of many taps: the residual may not grow by it.
func TestNarrowSignalHasNoResponse(t *testing.T) {
	reference, capture := make([]float64, 96000), make([]float64, 96000)
	for i := range reference {
		reference[i] = math.Exp(-float64(i)/20000) * math.Sin(2*math.Pi*397/48000*float64(i))
		capture[i] = reference[i] - max(-0.05, min(0.05, reference[i]))
	}
	a, err := Align(reference, capture, Options{LinearTaps: 65})
	if err != nil {
		t.Fatal(err)
	}
	if a.NonlinearRatio() > a.ResidualRatio()*1.001 {
		t.Errorf("behind a linear response %.4f is left of a residual of %.4f", a.NonlinearRatio(), a.ResidualRatio())
	}
}

func TestRefusals(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	noise := func() []float64 {
		x := make([]float64, 48000)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		return x
	}
	good := noise()
	bad := slices.Clone(good)
	bad[5] = math.NaN()
	for name, c := range map[string][2][]float64{
		"silent reference": {make([]float64, 48000), good},
		"DC capture":       {good, slices.Repeat([]float64{0.5}, 48000)},
		"two samples":      {good, {0.1, 0.2}},
		"not a number":     {good, bad},
		"other noise":      {good, noise()},
	} {
		if a, err := Align(c[0], c[1], Options{}); err == nil {
			t.Errorf("%s: delay %v, residual %v", name, a.Delay, a.ResidualRatio())
		}
	}
	if _, err := Align(good, noise(), Options{}); !errors.Is(err, ErrNotFound) {
		t.Errorf("other noise: %v", err)
	}
	defer func() {
		if recover() == nil {
			t.Error("an even number of taps did not panic")
		}
	}()
	_, _ = Align(good, good, Options{LinearTaps: 4})
}

// A capture of twice the reference's samples, delayed by a quarter, tells where
// it found the reference.
func ExampleAlign() {
	r := rand.New(rand.NewPCG(1, 2))
	reference := make([]float64, 20000)
	for i := range reference {
		reference[i] = 0.1 * r.NormFloat64()
	}
	capture := make([]float64, 40000)
	for i, v := range reference {
		capture[10000+i] = -0.5 * v
	}
	a, err := Align(reference, capture, Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("delay %.3f, gain %.3f, inverted %v\n", a.Delay, a.Gain, a.Inverted)
	// Output: delay 10000.000, gain -0.500, inverted true
}
