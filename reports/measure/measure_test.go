package measure

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quietcross/corpus/signal"
	"quietcross/dsp/wave"
)

// series returns n samples of Σ c[k] cos(kθ), band-limited.
func series(n int, rate, hertz float64, c []float64) []float64 {
	x := make([]float64, n)
	for k, a := range c {
		if float64(k)*hertz >= rate/2 {
			break
		}
		for i := range x {
			x[i] += a * math.Cos(2*math.Pi*float64(k)*hertz/rate*float64(i))
		}
	}
	return x
}

func noisy(x []float64, sigma float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 1))
	y := slices.Clone(x)
	for i := range y {
		y[i] += sigma * r.NormFloat64()
	}
	return y
}

// written sends audio through a WAV file and returns the open reader.
func written(t *testing.T, x [][]float64, f wave.Format) *wave.Reader {
	t.Helper()
	path := filepath.Join(t.TempDir(), "signal.wav")
	w, err := wave.Create(path, f, wave.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(x); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := wave.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
}

func figureOf(t *testing.T, c *Channel, key string) Figure {
	t.Helper()
	f, ok := c.Figure(key)
	if !ok {
		t.Fatalf("no figure %s in %s; warnings %q", key, c.Kind, c.Warnings)
	}
	return f
}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// From a WAV file of float samples, the harmonics of an exact dead band (closed
// form of its Fourier series, Gelb & Vander Velde), a half wave and an exponential
// law read within 0.01 dB down to -120 dB for whole cycles, 0.05 dB otherwise.
func TestHarmonicsFromFile(t *testing.T) {
	laws := map[string][]float64{"dead band": deadBand(0.1), "half wave": halfWave(), "exponential": exponential()}
	for name, law := range laws {
		for hertz, tolerance := range map[float64]float64{1000: 0.01, 997.123: 0.05} {
			f := wave.Format{Rate: 48000, Channels: 1, Encoding: wave.Float, Bits: 32}
			report, err := Run(written(t, [][]float64{series(96000, 48000, hertz, law)}, f), Options{})
			if err != nil {
				t.Fatal(err)
			}
			c := &report.Channels[0]
			if c.Kind != "tone" || len(c.Lines) != 19 {
				t.Fatalf("%s: %s with %d harmonics, %q", name, c.Kind, len(c.Lines), c.Warnings)
			}
			for _, l := range c.Lines {
				if l.Order >= len(law) || math.Abs(law[l.Order]/law[1]) < 1e-6 {
					continue
				}
				want := math.Abs(law[l.Order] / law[1])
				if e := decibels(l.Ratio / want); math.Abs(e) > tolerance {
					t.Errorf("%s at %g Hz, order %d: %.3f dB off", name, hertz, l.Order, e)
				}
			}
		}
	}
}

func deadBand(r float64) []float64 {
	a := math.Asin(r)
	c := make([]float64, 24)
	c[1] = 1 - 2/math.Pi*(a+math.Sin(2*a)/2)
	for n := 3; n < len(c); n += 2 {
		m := float64(n)
		c[n] = -2 / (math.Pi * m) * (math.Sin((m-1)*a)/(m-1) + math.Sin((m+1)*a)/(m+1))
	}
	return c
}

func halfWave() []float64 {
	c := make([]float64, 24)
	c[0], c[1] = 1/math.Pi, 0.5
	for n := 2; n < len(c); n += 2 {
		c[n] = 2 / (math.Pi * float64(n*n-1)) * math.Cos(math.Pi*float64(n/2+1))
	}
	return c
}

// exponential is e^(cos t)/4: orders 2, 3 and 5 re the first are 0.2401937239,
// 0.03922510452 and 0.0004803305 (tables of the modified Bessel functions).
func exponential() []float64 {
	return []float64{0.3, 0.5, 0.5 * 0.2401937239, 0.5 * 0.03922510452, 0, 0.5 * 0.0004803305}
}

// A clean 24-bit tone reads its dither: LSB²/4 (Lipshitz, Wannamaker & Vanderkooy,
// JAES 40, 1992), of which 19.98 of 24 kHz are in band.
func TestDitherFloorFromFile(t *testing.T) {
	for bits, lsb := range map[int]float64{16: math.Ldexp(1, -15), 24: math.Ldexp(1, -23)} {
		f := wave.Format{Rate: 48000, Channels: 1, Bits: bits}
		report, err := Run(written(t, [][]float64{series(1<<18, 48000, 997, []float64{0, 0.8})}, f), Options{})
		if err != nil {
			t.Fatal(err)
		}
		want := 10 * math.Log10(lsb*lsb/4*19980/24000/0.32)
		for _, key := range []string{"thd_n", "thd_n_notch"} {
			if got := decibels(figureOf(t, &report.Channels[0], key).Value); math.Abs(got-want) > 0.3 {
				t.Errorf("%d bits: %s %.2f dB, theory %.2f", bits, key, got, want)
			}
		}
	}
}

// The generated standard signals are recognised and read clean.
func TestBuiltInSignalsAreRecognised(t *testing.T) {
	for name, keys := range map[string][]string{
		"dynamic-3150-15k":          {"dynamic"},
		"total-difference-8k-11950": {"difference_total", "difference_2", "difference_3"},
		"multitone-31":              {"multitone_rest", "multitone_distortion"},
		"modulation-250-8000":       {"modulation_2", "modulation_3"},
		"modulation-60-7000":        {"modulation_2", "modulation_3"},
		"difference-19k-20k":        {"difference_2", "difference_3"},
	} {
		material, err := signal.Lookup(name)
		if err != nil {
			t.Error(err)
			continue
		}
		x, err := material.Generate(96000, 1)
		if err != nil {
			t.Fatal(err)
		}
		report, err := audio(x, 96000, Options{})
		if err != nil {
			t.Fatal(err)
		}
		c := &report.Channels[0]
		if c.Kind != material.Kind.String() {
			t.Errorf("%s: found %s, is %s", name, c.Kind, material.Kind)
		}
		for _, key := range keys {
			if f := figureOf(t, c, key); f.Value > 1e-8 {
				t.Errorf("%s: a clean signal reads %s %.3g", name, key, f.Value)
			}
		}
	}
}

// Wrong input: no figure of a test signal, and a warning that says why.
func TestWrongInput(t *testing.T) {
	const n = 96000
	square := make([]float64, n)
	for i := range square {
		square[i] = math.Copysign(1, math.Sin(2*math.Pi*1000.3/48000*float64(i)+0.1))
	}
	nan := series(n, 48000, 1000, []float64{0, 0.5})
	nan[1234] = math.NaN()
	for name, c := range map[string]struct {
		x       []float64
		kind    string
		warning string
	}{
		"silence":           {make([]float64, n), "silence", "silence or DC"},
		"DC":                {slices.Repeat([]float64{0.4}, n), "silence", "silence or DC"},
		"two samples":       {[]float64{0.1, -0.2}, "programme", "at least 256"},
		"noise":             {noisy(make([]float64, n), 0.1, 3), "programme", ""},
		"full-scale square": {square, "tone", "clipped"},
		"not a number":      {nan, "tone", "not finite"},
		"ten cycles":        {series(n, 48000, 5, []float64{0, 0.5}), "tone", "no figures"},
	} {
		report, err := audio([][]float64{c.x}, 48000, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		got := report.Channels[0]
		if got.Kind != c.kind || c.warning != "" && !strings.Contains(strings.Join(got.Warnings, "\n"), c.warning) {
			t.Errorf("%s: %s, warnings %q, want %s with %q", name, got.Kind, got.Warnings, c.kind, c.warning)
		}
		if _, ok := got.Figure("thd_f"); ok && c.kind != "tone" {
			t.Errorf("%s has a THD", name)
		}
		if _, err := json.Marshal(report); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := audio([][]float64{nil}, 48000, Options{}); err == nil {
		t.Error("an empty recording was measured")
	}
	if _, err := audio([][]float64{square}, 48000, Options{Kind: "waltz"}); err == nil {
		t.Error("an unknown kind was accepted")
	}
}

// A kind that is told is taken, with a warning when the signal looks different.
func TestToldKind(t *testing.T) {
	x := noisy(series(96000, 48000, 1000, []float64{0, 0.5}), 0.2, 4)
	report, err := audio([][]float64{x}, 48000, Options{Kind: "tone", Tones: []float64{1000}})
	if err != nil {
		t.Fatal(err)
	}
	c := report.Channels[0]
	if f := figureOf(t, &c, "thd_f"); !f.Unresolved || f.Sigma == 0 {
		t.Errorf("THD of a tone in strong noise: %+v", f)
	}
	if !c.Told {
		t.Error("the kind was told")
	}
}

// Loudness and peaks of all channels: a stereo sine of 1 kHz at -23 dBFS reads
// -23 LUFS (EBU Tech 3341, case 1).
func TestWholeFileFigures(t *testing.T) {
	a := math.Pow(10, -23.0/20)
	x := series(5*48000, 48000, 1000, []float64{0, a})
	for i := range 480 { // an abrupt edge would overshoot between the samples
		x[i] *= float64(i) / 480
		x[len(x)-1-i] *= float64(i) / 480
	}
	report, err := audio([][]float64{x, x}, 48000, Options{})
	if err != nil {
		t.Fatal(err)
	}
	loudness, ok := report.Figure("loudness")
	if !ok || math.Abs(loudness.Value+23) > 0.1 {
		t.Errorf("loudness %+v", loudness)
	}
	peak, ok := report.Figure("true_peak")
	if db, isLevel := peak.Level(); !ok || !isLevel || math.Abs(float64(db)+23) > 0.1 {
		t.Errorf("true peak %+v", peak)
	}
	// At 1 kHz both weightings are 0 dB: the sine's own RMS.
	for _, key := range []string{"rms_a", "quasi_peak_468"} {
		if got := decibels(figureOf(t, &report.Channels[0], key).Value); math.Abs(got+26.01) > 0.15 {
			t.Errorf("%s: %.2f dB, want -26.01", key, got)
		}
	}
	for _, b := range report.Channels[1].Bands {
		if b.Mid == 1000 && math.Abs(float64(b.Level)+23) > 0.05 {
			t.Errorf("1 kHz band %v dB, want -23", b.Level)
		}
	}
}

// A ladder of levels through a cubic law: the third harmonic re the fundamental
// falls with the square of the level (x + a·x³: a·A²/4 over 1 + 3aA²/4).
func TestLadder(t *testing.T) {
	const rate, cubic = 48000, 0.1
	var x []float64
	amplitudes := []float64{0.8, 0.4, 0.2, 0.1}
	for _, a := range amplitudes {
		x = slices.Concat(x, series(rate, rate, 997, []float64{0, a}), make([]float64, rate/4))
	}
	for i, v := range x {
		x[i] = v + cubic*v*v*v
	}
	report, err := audio([][]float64{x}, rate, Options{})
	if err != nil {
		t.Fatal(err)
	}
	c := report.Channels[0]
	if c.Kind != "ladder" || len(c.Steps) != len(amplitudes) {
		t.Fatalf("%s of %d steps, %q", c.Kind, len(c.Steps), c.Warnings)
	}
	for i, a := range amplitudes {
		want := cubic * a * a / 4 / (1 + 3*cubic*a*a/4)
		if got := figureOf(t, &c.Steps[i], "thd_f").Value; math.Abs(got/want-1) > 1e-5 {
			t.Errorf("step %d: THD %v, want %v", i, got, want)
		}
	}
}
