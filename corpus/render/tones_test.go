package render

import (
	"fmt"
	"math"
	"os"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"

	"quietcross/dsp/level"
	"quietcross/stage"
)

// A coherent tone meets the same phases in every cycle, and an alias of it may fall on a
// harmonic. These tones fit no rate: from 50 Hz to 19 kHz in equal ratios, a second each.
// What a rendering differs by from the closed form is cut at 20 kHz by a long filter
// and looked at in time, its peak and RMS, and in frequency: a line that is no harmonic
// is an alias.

const (
	bandEnd     = 20000.0 // Hz
	bandStop    = 20600.0 // from here on nothing of the difference is left
	toneCount   = 14
	lowestTone  = 50.0
	highestTone = 19000.0
)

// staticError is what a rendering differs by from the closed form, re a full-scale
// sine: peak against its peak, RMS against its RMS.
type staticError struct{ Peak, RMS, Alias level.DB }

// TestTonesThatFitNoRate holds static renderings at StaticOversample of the ideal pair at full level to
// its closed form. The ordinary run has the tones that are worst and one from each of the
// lower decades; QUIETCROSS_LONG=1 has all.
func TestTonesThatFitNoRate(t *testing.T) {
	settings := []stage.Setting{stage.Bias(0), stage.Bias(1.2), stage.Held(idealThermal / idealEmitter)}
	bench, err := NewBench(Options{Spec: idealSpec(), Drive: new(float64(idealDrive)), Match: MatchOff, Oversample: StaticOversample})
	if err != nil {
		t.Fatal(err)
	}
	exact := make([][]complex128, len(settings))
	for i, setting := range settings {
		e, err := bench.Ladder().At(setting)
		if err != nil {
			t.Fatal(err)
		}
		exact[i] = harmonics(e.Bias, idealDrive, int(bandStop/lowestTone)+1)
	}
	for _, row := range []struct {
		rate int
		bars []staticError // by setting, within 3 dB of the README's
	}{
		{44100, []staticError{{-116, -117, -120}, {-117, -117, -136}, {-117, -117, -150}}},
		{48000, []staticError{{-118, -121, -133}, {-121, -121, -148}, {-121, -121, -175}}},
		{96000, []staticError{{-130, -130, -156}, {-130, -130, -173}, {-130, -130, -192}}},
	} {
		for i, setting := range settings {
			worst, at := worstTone(t, bench, row.rate, setting, exact[i])
			what := fmt.Sprintf("%d Hz, %v: peak %.1f dB (%.0f Hz), RMS %.1f dB (%.0f Hz), alias %.1f dB (%.0f Hz)",
				row.rate, setting, worst.Peak, at[0], worst.RMS, at[1], worst.Alias, at[2])
			t.Log(what)
			if w := row.bars[i]; worst.Peak > w.Peak || worst.RMS > w.RMS || worst.Alias > w.Alias {
				t.Errorf("%s; want at most %+v", what, w)
			}
		}
	}
}

// worstTone renders every tone and returns the worst of each figure, and the frequencies
// at which they are met.
func worstTone(t *testing.T, bench *Bench, rate int, setting stage.Setting, exact []complex128) (worst staticError, at [3]float64) {
	t.Helper()
	none := level.DB(math.Inf(-1))
	worst = staticError{none, none, none}
	for n := range toneCount {
		if os.Getenv("QUIETCROSS_LONG") == "" && n != 0 && n != 6 && n < toneCount-2 {
			continue
		}
		frequency := lowestTone * math.Pow(highestTone/lowestTone, float64(n)/(toneCount-1))
		x := make([]float64, rate+rate/4)
		for i := range x {
			x[i] = math.Cos(2 * math.Pi * frequency * float64(i) / float64(rate))
		}
		clip, err := bench.Render(t.Context(), [][]float64{x}, rate, 0, setting)
		if err != nil {
			t.Fatal(err)
		}
		got := differs(clip.Output[0], rate, frequency, exact)
		for k, pair := range [][2]*level.DB{{&worst.Peak, &got.Peak}, {&worst.RMS, &got.RMS}, {&worst.Alias, &got.Alias}} {
			if *pair[1] > *pair[0] {
				*pair[0], at[k] = *pair[1], frequency
			}
		}
	}
	return worst, at
}

// differs compares the second in the middle of a rendering of a cosine with the harmonics
// of the closed form.
func differs(y []float64, rate int, frequency float64, want []complex128) staticError {
	e := append([]float64(nil), y...)
	for k := 1; float64(k)*frequency <= bandStop; k += 2 { // a symmetric pair has no others
		sin, cos := math.Sincos(2 * math.Pi * float64(k) * frequency / float64(rate))
		z, turn := complex(real(want[k]), 0), complex(cos, sin)
		for n := range e {
			e[n] -= real(z)
			z *= turn
		}
	}
	e = cut(e, rate)
	e = e[len(e)/10 : len(e)-len(e)/10]
	peak := 0.0
	for _, x := range e {
		peak = max(peak, math.Abs(x))
	}
	return staticError{level.FromAmplitude(peak), level.FromAmplitude(level.RMS(e) * math.Sqrt2), aliasOf(e, rate, frequency)}
}

// cutSize is the length of the transforms that cut.
const cutSize = 1 << 17

// cut takes away what lies over the band, by a filter of a windowed sinc whose ends are
// far inside the tenth that the caller drops.
func cut(e []float64, rate int) []float64 {
	fft := fourier.NewFFT(cutSize)
	x := make([]float64, cutSize)
	copy(x, e)
	response, lines := cutter(fft, rate), fft.Coefficients(nil, x)
	for k := range lines {
		lines[k] *= response[k] / complex(cutSize, 0)
	}
	return fft.Sequence(nil, lines)[:len(e)]
}

// cutters are the filters of the rates that were asked for.
var cutters = map[int][]complex128{}

func cutter(fft *fourier.FFT, rate int) []complex128 {
	if known, ok := cutters[rate]; ok {
		return known
	}
	half := 6 * float64(rate) / (bandStop - bandEnd)
	middle := math.Pi * (bandStop + bandEnd) / float64(rate)
	h := make([]float64, cutSize)
	for n := range int(half) {
		x := float64(n) / half
		taper := 0.0 // Blackman-Harris, four terms: -92 dB, and falling
		for k, a := range []float64{0.35875, 0.48829, 0.14128, 0.01168} {
			taper += a * math.Cos(math.Pi*float64(k)*x)
		}
		sinc := middle / math.Pi
		if n > 0 {
			sinc = math.Sin(middle*float64(n)) / (math.Pi * float64(n))
		}
		h[n], h[(cutSize-n)%cutSize] = taper*sinc, taper*sinc
	}
	cutters[rate] = fft.Coefficients(nil, h)
	return cutters[rate]
}

// aliasOf returns the maximum line of e that is no harmonic of the tone.
func aliasOf(e []float64, rate int, frequency float64) level.DB {
	const lobe = 5.0 // half width of a line, bins
	size := 1 << int(math.Log2(float64(len(e))))
	x := make([]float64, size)
	for n := range x {
		x[n] = 1
	}
	window.BlackmanNuttall(x)
	sum := 0.0
	for n, w := range x {
		sum += w
		x[n] = w * e[n]
	}
	worst := 0.0
	for k, line := range fourier.NewFFT(size).Coefficients(nil, x) {
		hertz := float64(k) * float64(rate) / float64(size)
		off := math.Abs(math.Remainder(hertz, frequency)) * float64(size) / float64(rate)
		if off > lobe && hertz > lobe && hertz < bandEnd {
			worst = max(worst, math.Hypot(real(line), imag(line))*2/sum)
		}
	}
	return level.FromAmplitude(worst)
}
