package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quietcross/dsp/align"
	"quietcross/dsp/distortion"
	"quietcross/dsp/spectrum"
)

// TestEdgeOfALevel: an amplitude of less than three uncertainties has no level of its
// own, and is told as three of them at most.
func TestEdgeOfALevel(t *testing.T) {
	for _, unit := range []Unit{FullScale, Ratio} {
		known := rowOf(Figure{Unit: unit, Value: 0.0031, Sigma: 0.001})
		if strings.Contains(known.value, "at most") || known.uncertainty == "within the noise" {
			t.Errorf("3.1 uncertainties: %q, %q", known.value, known.uncertainty)
		}
		lost := rowOf(Figure{Unit: unit, Value: -0.0029, Sigma: 0.001})
		if !strings.Contains(lost.value, "at most about") || !strings.Contains(lost.value, "50.5") || lost.uncertainty != "within the noise" {
			t.Errorf("2.9 uncertainties: %q, %q; 0.003 is -50.5 dB", lost.value, lost.uncertainty)
		}
	}
	if r := rowOf(Figure{Unit: Samples, Value: 0.001, Sigma: 0.01}); strings.Contains(r.value, "at most") {
		t.Errorf("a delay of nothing is a delay: %q", r.value)
	}
}

// TestEdgeOfAnUncertainty: under a ten-thousandth its own digits are not shown.
func TestEdgeOfAnUncertainty(t *testing.T) {
	for sigma, want := range map[float64]string{0.99e-4: "±0.0001 dB or less", 1.01e-4: "±0.00010 dB"} {
		if got := plusMinus(sigma, " dB"); got != want {
			t.Errorf("%g: %q, want %q", sigma, got, want)
		}
	}
}

// TestEdgesOfWarnings measures tones on each side of where weighted THD is defined and
// of what the quasi-peak detector needs.
func TestEdgesOfWarnings(t *testing.T) {
	const rate = 48000.0
	said := func(hertz, seconds float64, text string) bool {
		x := make([]float64, int(seconds*rate))
		for i := range x {
			x[i] = 0.5 * math.Cos(2*math.Pi*hertz*float64(i)/rate)
		}
		var c Channel
		if err := c.tone(x, rate, []float64{hertz}, Options{}); err != nil {
			t.Fatal(err)
		}
		return strings.Contains(strings.Join(c.Warnings, "\n"), text)
	}
	for _, c := range []struct {
		hertz, seconds float64
		text           string
		want           bool
	}{
		{403, 0.5, "weighted THD is defined", false},
		{405, 0.5, "weighted THD is defined", true},
		{31.2, 1.1, "weighted THD is defined", false},
		{30.8, 1.1, "weighted THD is defined", true},
		{997, 0.98, "no quasi-peak noise", true},
		{997, 1.02, "no quasi-peak noise", false},
		{997, 2.9, "reads low", true},
		{997, 3.1, "reads low", false},
	} {
		if got := said(c.hertz, c.seconds, c.text); got != c.want {
			t.Errorf("%g Hz, %g s: %q said: %v", c.hertz, c.seconds, c.text, got)
		}
	}
}

// Clipping is told once, of the whole channel, with what the part's warning says beside
// its count.
func TestClippingIsToldOnce(t *testing.T) {
	x := make([]float64, 4800)
	for i := range x {
		x[i] = max(-0.5, min(0.5, math.Sin(2*math.Pi*float64(i)/97.3)))
	}
	for _, note := range []string{"", " (a square may look clipped by its nature)"} {
		c := Channel{From: 100, To: 4000}
		c.Warnings = []string{"only 40 cycles", distortion.Clipping(x[c.From:c.To]).String() + note}
		c.clipping(x)
		if want := []string{"only 40 cycles", distortion.Clipping(x).String() + note}; !slices.Equal(c.Warnings, want) {
			t.Errorf("warnings %q, want %q", c.Warnings, want)
		}
	}
}

// Third octaves go from 25 Hz to 20 kHz, or lie whole below half the rate; the filter that
// takes linear differences out has 3 to 1025 taps, an odd number, or none.
func TestEdgesOfBandsAndTaps(t *testing.T) {
	for rate, last := range map[float64]float64{48000: 20000, 96000: 20000, 32000: 12500} {
		s := &spectrum.Spectrum{Rate: rate, Size: 1 << 14, Power: make([]float64, 1<<13+1), Segments: 1}
		bands := thirdOctaves(s, rate)
		if first, end := bands[0].Mid, bands[len(bands)-1].Mid; math.Abs(first/25-1) > 0.02 || math.Abs(end/last-1) > 0.02 {
			t.Errorf("at %g Hz bands from %g to %g Hz", rate, first, end)
		}
	}
	audio := [][]float64{make([]float64, 4096)}
	r := rand.New(rand.NewPCG(1, 2))
	for i := range audio[0] {
		audio[0][i] = 0.1 * r.NormFloat64()
	}
	for taps, legal := range map[int]bool{0: true, 1: false, 2: false, 3: true, 4: false, 6: false, 1025: true, 1026: false, 1027: false} {
		_, err := Compare(audio, audio, 48000, 48000, CompareOptions{LinearTaps: taps})
		if refused := err != nil && strings.Contains(err.Error(), "legal are"); refused == legal {
			t.Errorf("%d taps: %v", taps, err)
		}
	}
}

// A weighted residual is of 20 Hz to 20 kHz.
func TestEdgesOfAResidual(t *testing.T) {
	for hertz, counts := range map[float64]bool{19: false, 21.5: true, 19_990: true, 20_010: false} {
		signal := &spectrum.Spectrum{Rate: 48000, Size: 1 << 16, Power: make([]float64, 1<<15+1), Segments: 1}
		residual := &spectrum.Spectrum{Rate: 48000, Size: 1 << 16, Power: make([]float64, 1<<15+1), Segments: 1}
		signal.Power[1366] = 1 // 1 kHz
		residual.Power[int(math.Round(hertz/48000*(1<<16)))] = 1
		figures := residuals(&align.Result{Residual: []float64{1, -1}}, signal, residual, 48000)
		for _, f := range figures {
			if (f.Key == "residual_a" || f.Key == "residual_468") && f.Value > 0 != counts {
				t.Errorf("%s at %g Hz: %g", f.Key, hertz, f.Value)
			}
		}
	}
}

// Tones of modulation are 4:1 and those of difference frequency alike (IEC 60268-3, 14.12):
// others are told, from a twentieth and a tenth off.
func TestEdgesOfTwoTones(t *testing.T) {
	for _, c := range []struct {
		ratio             float64
		modulation, alike bool // whether it is told beside either
	}{{4.19, false, true}, {4.21, true, true}, {3.81, false, true}, {3.79, true, true}, {1.09, true, false}, {1.11, true, true}, {0.91, true, false}, {0.89, true, true}} {
		tones := &distortion.TwoTones{Low: distortion.Product{Amplitude: c.ratio, Frequency: 60}, High: distortion.Product{Amplitude: 1, Frequency: 7000}}
		told := func(measure func(*Channel, *distortion.TwoTones)) bool {
			var ch Channel
			measure(&ch, tones)
			return slices.ContainsFunc(ch.Warnings, func(w string) bool { return strings.Contains(w, ":1") })
		}
		if got := told((*Channel).modulation); got != c.modulation {
			t.Errorf("%g:1 as modulation: told %v", c.ratio, got)
		}
		if got := told((*Channel).difference); got != c.alike {
			t.Errorf("%g:1 as difference: told %v", c.ratio, got)
		}
	}
}

// Power of noise over a bandwidth B and a time T has a normalised random error of
// 1/sqrt(BT), its root half of that (Bendat and Piersol, Random Data, 8.2): 20 kHz, and
// 8 kHz of what the A weighting passes.
func TestUncertaintyOfNoise(t *testing.T) {
	const rate, seconds = 48000.0, 0.5
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, int(seconds*rate))
	for i := range x {
		x[i] = 0.5*math.Cos(2*math.Pi*997.3*float64(i)/rate) + 1e-3*r.NormFloat64()
	}
	var c Channel
	if err := c.tone(x, rate, []float64{997.3}, Options{}); err != nil {
		t.Fatal(err)
	}
	for key, bandwidth := range map[string]float64{"noise": 20_000, "noise_a": 8000} {
		f := figureOf(t, &c, key)
		if got, want := f.Sigma/f.Value, 0.5/math.Sqrt(bandwidth*seconds); math.Abs(got/want-1) > 1e-3 {
			t.Errorf("%s: %g of it uncertain, want %g", key, got, want)
		}
	}
}

// What is more than twice its reference has no percentage.
func TestEdgeOfPercent(t *testing.T) {
	for ratio, want := range map[float64]bool{1.95: true, -1.95: true, 2.05: false, -2.05: false} {
		if got := strings.Contains(value(Figure{Unit: Ratio, Value: ratio}), "%"); got != want {
			t.Errorf("%g: in percent %v", ratio, got)
		}
	}
}

// Two tones are of modulation where the low one has more than twice the height of the high
// one, and a product is resolved that is more than three uncertainties high.
func TestEdgesOfProducts(t *testing.T) {
	const rate = 48000.0
	for ratio, key := range map[float64]string{1.95: "difference_2", 2.05: "modulation_2"} {
		x := make([]float64, int(rate/2))
		for i := range x {
			s := 2 * math.Pi * float64(i) / rate
			x[i] = 0.2*ratio*math.Cos(997.3*s) + 0.2*math.Cos(7001.1*s)
		}
		var c Channel
		if err := c.twoTones(x, rate, 997.3, 7001.1); err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(c.Figures, func(f Figure) bool { return f.Key == key }) {
			t.Errorf("%g:1: no %s in %+v", ratio, key, c.Figures)
		}
	}
	for amplitude, want := range map[float64]bool{3.1: true, 2.9: false} {
		if got := productLine("p", distortion.Product{Amplitude: amplitude, Sigma: 1}, 1).Resolved; got != want {
			t.Errorf("%g uncertainties: resolved %v", amplitude, got)
		}
	}
}
