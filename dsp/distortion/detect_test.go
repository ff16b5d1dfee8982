package distortion

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func withNoise(x []float64, sigma float64) []float64 {
	r := rand.New(rand.NewPCG(5, 9))
	y := slices.Clone(x)
	for i := range y {
		y[i] += sigma * r.NormFloat64()
	}
	return y
}

// pulses is a sine of peak 1 through a dead band of ±r.
func pulses(n int, rate, hertz, r float64) []float64 {
	x := tone(n, rate, hertz, 1)
	for i, v := range x {
		x[i] = v - max(-r, min(r, v))
	}
	return x
}

// Where most of the power lies above the fitted orders the tone is measured, with
// a warning.
func TestDeeplyStarvedTone(t *testing.T) {
	m, err := Harmonics(pulses(96000, 48000, 61.7, 0.995), 48000)
	if err != nil {
		t.Fatal(err)
	}
	want := deadBand(0.995)
	if got := m.Harmonics[1].Amplitude() / m.Fundamental.Amplitude(); math.Abs(got-math.Abs(want[3]/want[1])) > 1e-3 {
		t.Errorf("third harmonic %v, want %v", got, math.Abs(want[3]/want[1]))
	}
	if len(m.Warnings) == 0 {
		t.Error("no warning of what lies above the fitted orders")
	}
}

func TestDetect(t *testing.T) {
	const rate, n = 48000, 96000
	square := tone(n, rate, 1000.3, 1)
	for i, v := range square {
		square[i] = math.Copysign(1, v)
	}
	dim := []line{{15000, 0.2}, {750, 0.002}}
	for k := 1; k <= 7; k += 2 {
		dim = append(dim, line{3150 * float64(k), 0.8 / float64(k)})
	}
	dc := slices.Repeat([]float64{0.3}, n)
	decay := tone(n, rate, 440, 1)
	for i := range decay {
		decay[i] *= math.Exp(-float64(i) / 20000)
	}
	for _, c := range []struct {
		name  string
		x     []float64
		kind  Kind
		tones []float64
	}{
		{"zeros", make([]float64, n), Silence, nil},
		{"DC", dc, Silence, nil},
		{"clean tone", tone(n, rate, 997, 0.9), SingleTone, []float64{997}},
		{"low tone", tone(n, rate, 20, 0.9), SingleTone, []float64{20}},
		{"quiet noisy tone", withNoise(tone(n, rate, 1000, 1e-3), 1e-4), SingleTone, []float64{1000}},
		{"dead band", play(n, rate, 440.3, 0, deadBand(0.5)), SingleTone, []float64{440.3}},
		{"what little a dead band lets through", pulses(n, rate, 61.7, 0.995), SingleTone, []float64{61.7}},
		{"half wave", play(n, rate, 100.1, 0, halfWave()), SingleTone, []float64{100.1}},
		{"square of full scale", square, SingleTone, []float64{1000.3}},
		{"modulation", mix(n, rate, line{250, .8}, line{8000, .2}, line{7750, .01}), TwoTone, []float64{250, 8000}},
		{"modulation, 60 Hz", mix(n, rate, line{60, .8}, line{7000, .2}), TwoTone, []float64{60, 7000}},
		{"difference", mix(n, rate, line{19000, .5}, line{20000, .5}, line{1000, 0.1}), DifferenceTones, []float64{19000, 20000}},
		{"dynamic", mix(n, rate, dim...), SquareAndTone, []float64{3150, 15000}},
		{"noise", withNoise(make([]float64, n), 0.1), Programme, nil},
		{"decaying tone", decay, Programme, nil},
	} {
		s, err := Detect(c.x, rate)
		if err != nil || s.Kind != c.kind || len(s.Tones) != len(c.tones) {
			t.Errorf("%s: %v %v (%v), want %v %v", c.name, s.Kind, s.Tones, err, c.kind, c.tones)
			continue
		}
		for i, f := range c.tones {
			if math.Abs(s.Tones[i]-f) > 0.2 {
				t.Errorf("%s: tone at %v Hz, want %v", c.name, s.Tones[i], f)
			}
		}
	}
}

func TestKindNames(t *testing.T) {
	for k := Programme; k <= Silence; k++ {
		if got, err := ParseKind(k.String()); err != nil || got != k {
			t.Errorf("%v parses as %v (%v)", k, got, err)
		}
	}
	if _, err := ParseKind("waltz"); err == nil {
		t.Error("an unknown kind was accepted")
	}
}

// Wrong input is refused or warned of, never a confident number.
func TestWrongInput(t *testing.T) {
	const rate, n = 48000, 48000
	nan := tone(n, rate, 1000, 0.5)
	nan[77] = math.NaN()
	for name, x := range map[string][]float64{
		"nothing": nil, "two samples": {0.1, -0.1}, "silence": make([]float64, n),
		"DC": slices.Repeat([]float64{0.5}, n), "not a number": nan,
		"noise": withNoise(make([]float64, n), 0.1), "few cycles": tone(n, rate, 10, 0.5)[:8000],
	} {
		if m, err := Harmonics(x, rate); err == nil {
			t.Errorf("%s was measured: %.4g Hz, THD %.3g", name, m.Frequency, m.THDF().Value)
		}
	}
	if _, err := Harmonics(make([]float64, n), rate); !errors.Is(err, ErrSilence) {
		t.Errorf("silence: %v", err)
	}
	square := tone(n, rate, 1000.3, 1)
	for i, v := range square {
		square[i] = math.Copysign(1, v)
	}
	m, err := Harmonics(square, rate)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(m.Warnings, func(w string) bool { return w == Clipping(square).String() }) {
		t.Errorf("a square of full scale has no clipping warning: %q", m.Warnings)
	}
	defer func() {
		if recover() == nil {
			t.Error("a rate of 0 did not panic")
		}
	}()
	_, _ = Detect(square, 0)
}

func TestClipping(t *testing.T) {
	const rate, n = 48000, 48000
	r := rand.New(rand.NewPCG(2, 3))
	for _, hertz := range []float64{20, 50, 100, 1000, 12000} {
		for _, bits := range []int{16, 24} {
			if c := Clipping(dithered(tone(n, rate, hertz, 0.9), bits, r)); c.Samples > 0 {
				t.Errorf("a clean tone of %g Hz in %d bits: %v", hertz, bits, c)
			}
		}
		// 1 dB over the rail of 0.8 for all but the highest, where three samples
		// in a row never lie on the rail.
		clipped := dithered(tone(n, rate, hertz, 0.8*1.122), 16, r)
		for i, v := range clipped {
			clipped[i] = max(-0.8, min(0.8, v))
		}
		c := Clipping(clipped)
		if hertz <= 1000 && (c.Samples == 0 || c.Level != 0.8 || clipped[c.First] != 0.8 && clipped[c.First] != -0.8) {
			t.Errorf("a clipped tone of %g Hz: %v", hertz, c)
		}
	}
	if c := Clipping(slices.Repeat([]float64{1}, 10)); c.Samples != 0 {
		t.Errorf("DC: %v", c)
	}
}

// TestRefine holds the tones of noisy records, none of which fit their length, to
// those that were put in; the finder alone is a hundredth of a line off.
func TestRefine(t *testing.T) {
	const rate, n = 44100.0, 50_000
	for _, tones := range [][]float64{{1000}, {997.3}, {60.7, 7003.1}, {18_990.2, 20_003.9}, {313, 719.5, 1601.7, 3203.3, 6007.9, 9011.1, 12007.7}} {
		x := make([]float64, n)
		rng := rand.New(rand.NewPCG(7, 7))
		for i := range x {
			for k, f := range tones {
				x[i] += 0.1 * math.Cos(2*math.Pi*f*float64(i)/rate+float64(k*k))
			}
			x[i] += 1e-5 * rng.NormFloat64()
		}
		found, err := Detect(x, rate)
		if err != nil || len(found.Tones) != len(tones) {
			t.Fatalf("%v: %+v, %v", tones, found, err)
		}
		for k, got := range found.Refine(x, rate) {
			if math.Abs(got-tones[k]) > 2e-6 {
				t.Errorf("%v: tone %d refined to %.9g Hz, found at %.9g", tones, k, got, found.Tones[k])
			}
		}
	}
	short := Signal{Kind: SingleTone, Tones: []float64{10}}
	if got := short.Refine(make([]float64, 300), rate); got[0] != 10 {
		t.Errorf("what cannot be fitted: %v, want it as found", got)
	}
}
