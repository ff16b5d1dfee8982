package spectrum

import (
	"math"
	"testing"

	dspwindow "github.com/mjibson/go-dsp/window"
	"gonum.org/v1/gonum/dsp/fourier"
)

var windows = []Window{Hann, BlackmanHarris4, BlackmanHarris7, FlatTop}

// Noise bandwidth and maximum side lobe as published: Harris 1978, table I (Hann
// -32 dB, 1.50; minimum four-term Blackman-Harris -92 dB, 2.00), Albrecht 2001
// (-180.5 dB), Heinzel et al. 2002 (HFT90D -90.2 dB, 3.8832).
func TestWindowsAgainstPublishedFigures(t *testing.T) {
	want := map[Window]struct{ bandwidth, sideLobe float64 }{
		Hann: {1.50, -31.5}, BlackmanHarris4: {2.00, -92}, BlackmanHarris7: {2.63, -180.4}, FlatTop: {3.8832, -90.2},
	}
	for _, w := range windows {
		if got := w.NoiseBandwidth(); math.Abs(got-want[w].bandwidth) > 0.0051 {
			t.Errorf("%v: noise bandwidth %.4f lines, want %.4f", w, got, want[w].bandwidth)
		}
		if got := sideLobe(w); math.Abs(got-want[w].sideLobe) > 0.3 {
			t.Errorf("%v: side lobe %.2f dB, want %.2f", w, got, want[w].sideLobe)
		}
	}
}

// sideLobe returns the maximum gain outside the main lobe, in dB, from a
// transform of the window padded to many times its length.
func sideLobe(w Window) float64 {
	const n, pad = 4096, 16
	x := make([]float64, n*pad)
	copy(x, w.Coefficients(n))
	lines := fourier.NewFFT(n*pad).Coefficients(nil, x)
	worst := 0.0
	for _, c := range lines[w.HalfWidth()*pad:] {
		worst = max(worst, square(c)/square(lines[0]))
	}
	return 10 * math.Log10(worst)
}

// Closed forms against sums over the samples.
func TestWindowGainAndBandwidthAreThoseOfTheSamples(t *testing.T) {
	for _, w := range windows {
		sum, squares := 0.0, 0.0
		const n = 128
		for _, c := range w.Coefficients(n) {
			sum += c
			squares += c * c
		}
		if got := w.CoherentGain(); math.Abs(got-sum/n) > 1e-12 {
			t.Errorf("%v: coherent gain %v, samples give %v", w, got, sum/n)
		}
		if got, want := w.NoiseBandwidth(), squares*n/(sum*sum); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: noise bandwidth %v, samples give %v", w, got, want)
		}
	}
}

// Ours are periodic; those of go-dsp are symmetric, which shifts a spectrum's
// lines and is why they are not used.
func TestWindowsArePeriodic(t *testing.T) {
	const n = 64
	for _, w := range windows {
		c := w.Coefficients(n)
		for i := 1; i < n; i++ {
			if math.Abs(c[i]-c[n-i]) > 1e-14 {
				t.Errorf("%v: value %d is %v, value %d %v", w, i, c[i], n-i, c[n-i])
			}
		}
		if c[n-1] == c[0] {
			t.Errorf("%v: last value equals the first: symmetric", w)
		}
	}
	if h := dspwindow.Hann(n); h[0] != h[n-1] {
		t.Error("go-dsp's windows are no longer symmetric: its use could be considered again")
	}
}

func TestFlatTopReadsBetweenLines(t *testing.T) {
	const n = 4096
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 100.5 / n * float64(i))
	}
	s := Of(x, n, FlatTop)
	if got := float64(s.Level(100)); math.Abs(got) > 0.004 {
		t.Errorf("a tone half way between lines reads %.4f dB, want 0 within 0.004", got)
	}
}

func TestWindowNames(t *testing.T) {
	if got := BlackmanHarris7.String(); got != "Blackman-Harris 7-term" {
		t.Errorf("name %q", got)
	}
	if got := Window(9).String(); got != "Window(9)" {
		t.Errorf("name %q", got)
	}
	mustPanic(t, func() { Window(9).Coefficients(4) })
	mustPanic(t, func() { Hann.Coefficients(0) })
}

func mustPanic(t *testing.T, f func()) {
	t.Helper()
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	f()
}
