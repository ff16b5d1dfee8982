package render

import (
	"math"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// analysed is the stretch of a rendered file that the tests transform: a prime
// number of cycles of an odd bin falls into it, so that an alias cannot hide on a
// harmonic.
const (
	analysedFrom   = 8192
	analysedLength = 1 << 15
)

// oddBin returns the odd line nearest to a frequency.
func oddBin(frequency float64, rate int) int {
	bin := int(frequency * analysedLength / float64(rate))
	return bin | 1
}

// renderLines renders the file at path in float and returns the amplitudes of
// the lines of each rendering, full scale 1, and the manifest.
func renderLines(t *testing.T, path string, o Options) ([][][]float64, *corpus.Manifest) {
	t.Helper()
	dir := t.TempDir()
	m, err := Run(t.Context(), dir, []Source{File{Path: path}}, o)
	if err != nil {
		t.Fatal(err)
	}
	lines := make([][][]float64, len(m.Items))
	for i, item := range m.Items {
		for _, r := range item.Renderings {
			lines[i] = append(lines[i], fileLines(t, filepath.Join(dir, filepath.FromSlash(r.File))))
		}
	}
	return lines, m
}

func fileLines(t *testing.T, path string) []float64 {
	t.Helper()
	_, audio, err := wave.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return lineAmplitudes(audio[0][analysedFrom : analysedFrom+analysedLength])
}

func lineAmplitudes(x []float64) []float64 {
	coefficients := fourier.NewFFT(len(x)).Coefficients(nil, x)
	amplitudes := make([]float64, len(coefficients))
	for k, c := range coefficients {
		amplitudes[k] = math.Hypot(real(c), imag(c)) * 2 / float64(len(x))
	}
	return amplitudes
}

// TestAliases holds every line below 20 kHz that is no harmonic of the tone to
// 120 dB below it. An ideal memoryless stage makes harmonics only, so that any
// other line is an alias or noise of ours.
func TestAliases(t *testing.T) {
	const rate = 48000
	for _, frequency := range []float64{1000, 5000, 10000} {
		bin := oddBin(frequency, rate)
		path := writeTone(t, float64(bin)*rate/analysedLength, rate, analysedFrom+analysedLength+4096)
		lines, m := renderLines(t, path, Options{
			Spec: idealSpec(), Settings: []stage.Setting{stage.Bias(0), stage.Bias(1.2)},
			Levels: []level.DB{0, -20}, Drive: new(float64(idealDrive)), Match: MatchOff,
		})
		for i, item := range m.Items {
			for j, rung := range m.Rungs {
				worst := worstAlias(lines[i][j], bin, rate)
				t.Logf("%g Hz, %v dB, %s: worst alias %.1f dB re the fundamental", frequency, item.Level, rung.ID, worst)
				if worst > -120 {
					t.Errorf("%g Hz, %v dB, %s: worst alias %.1f dB, want at most -120 dB", frequency, item.Level, rung.ID, worst)
				}
			}
		}
	}
}

// worstAlias returns the maximum line below 20 kHz that is no multiple of bin.
func worstAlias(lines []float64, bin, rate int) level.DB {
	worst := 0.0
	for k := 1; k*rate < 20000*analysedLength; k++ {
		if k%bin != 0 {
			worst = max(worst, lines[k])
		}
	}
	return level.FromAmplitude(worst / lines[bin])
}

// TestLinearStageAddsNothing passes a tone through a linear law beside the
// reference: what is left over is rounding.
func TestLinearStageAddsNothing(t *testing.T) {
	item := renderLinear(t, 0.93, MatchOff)
	if got := item.Renderings[0].Residual.Level; got > -304 {
		t.Errorf("residual of a linear stage %.1f dB, want at most -304 dB", got)
	} else {
		t.Logf("residual of a linear stage %.1f dB", got)
	}
	if got := item.Renderings[0].Gain; math.Abs(got-0.93) > 1e-12 {
		t.Errorf("fitted gain %.15f, want 0.93", got)
	}
}

// renderLinear renders a float file of a tone through the law gain·x in place of a
// stage.
func renderLinear(t *testing.T, gain float64, match Match) *corpus.Item {
	t.Helper()
	r, err := prepare(t.Context(), t.TempDir(), Options{
		Spec: idealSpec(), Settings: []stage.Setting{stage.Bias(1.2)}, Levels: []level.DB{0}, Drive: new(float64(idealDrive)), Match: match,
	})
	if err != nil {
		t.Fatal(err)
	}
	r.rungs[0].law = shape.Linear(gain)
	if err := r.describeItems([]Source{File{Path: writeTone(t, 12345.678, 48000, 40000)}}); err != nil {
		t.Fatal(err)
	}
	if err := r.renderItem(t.Context(), &r.jobs[0]); err != nil {
		t.Fatal(err)
	}
	return &r.jobs[0].item
}

// TestReferenceIsFlatAndOnTime compares the reference track with its source:
// tones up to 20 kHz keep level and phase, at 48 and at 44.1 kHz.
func TestReferenceIsFlatAndOnTime(t *testing.T) {
	for _, rate := range []int{44100, 48000, 96000} {
		for _, frequency := range []float64{20, 1000, 10000, 15000, 19000, 20000} {
			bin := oddBin(frequency, rate)
			if float64(bin) > frequency*analysedLength/float64(rate) && frequency == 20000 {
				bin -= 2
			}
			path := writeTone(t, float64(bin)*float64(rate)/analysedLength, rate, analysedFrom+analysedLength+4096)
			dir := t.TempDir()
			m, err := Run(t.Context(), dir, []Source{File{Path: path}}, Options{
				Spec: idealSpec(), Settings: []stage.Setting{stage.Bias(1.2)}, Levels: []level.DB{0}, Drive: new(float64(idealDrive)), Match: MatchOff,
			})
			if err != nil {
				t.Fatal(err)
			}
			source := toneLine(t, path, bin)
			reference := toneLine(t, filepath.Join(dir, filepath.FromSlash(m.Items[0].Reference.File)), bin)
			ratio := reference / source
			gain := level.FromAmplitude(math.Hypot(real(ratio), imag(ratio)))
			phase := math.Atan2(imag(ratio), real(ratio))
			if math.Abs(float64(gain)) > 0.01 {
				t.Errorf("%d Hz rate, %g Hz: reference %+.5f dB, want within 0.01 dB", rate, frequency, gain)
			}
			if math.Abs(phase) > 1e-6 {
				t.Errorf("%d Hz rate, %g Hz: reference off by %g rad, want the source's own phase", rate, frequency, phase)
			}
		}
	}
}

// toneLine returns the complex line of a file at a bin.
func toneLine(t *testing.T, path string, bin int) complex128 {
	t.Helper()
	_, audio, err := wave.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return fourier.NewFFT(analysedLength).Coefficients(nil, audio[0][analysedFrom:analysedFrom+analysedLength])[bin]
}
