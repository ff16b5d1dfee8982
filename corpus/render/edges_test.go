package render

import (
	"math"
	"strings"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// Residuals are made up by whole decibels up to 80, files trimmed to a tenth under full
// scale.
func TestGainEdges(t *testing.T) {
	for residual, want := range map[level.DB]level.DB{-75.5: 75, -79.9: 79, -81: 80, -300: 80} {
		if got := makeUpGain(0, residual); got != want {
			t.Errorf("residual at %g dB: %g dB", float64(residual), float64(got))
		}
	}
	for peak, want := range map[level.DB]float64{0: -0.1, -0.05: -0.05, -0.15: 0, 3: -3.1} {
		if got := trim([]level.DB{-20, peak}); math.Abs(float64(got)-want) > 1e-12 {
			t.Errorf("peak at %g dB: %g dB", float64(peak), float64(got))
		}
	}
}

// A rendering that would take over 60 dB is left unmatched, and said to be.
func TestMatchEdges(t *testing.T) {
	for down, matched := range map[float64]bool{59.9: true, 60.1: false} {
		b := &branch{fit: fit{cross: math.Pow(10, -down/20), power: 1}}
		gain, warning := matchGain(MatchGain, b, nil)
		if (warning == "") != matched || matched && math.Abs(float64(gain)-down) > 1e-9 || !matched && gain != 0 {
			t.Errorf("%g dB down: %g dB, %q", down, float64(gain), warning)
		}
	}
}

// gated returns the loudness of a 1 kHz tone, its first part at one level and the rest at
// another, full scale 1.
func gated(first, rest float64) *level.Loudness {
	m := level.NewLoudness(48000, 1)
	x := make([]float64, 48000)
	for _, amplitude := range []float64{first, rest} {
		for i := range x {
			x[i] = amplitude * math.Sin(2*math.Pi*float64(i)/48)
		}
		m.Add([][]float64{x})
	}
	return m
}

// Loudness is matched to 1e-4 dB, though the absolute gate drops parts of the softer track
// at first that it takes in once that is matched, so that a step does not do.
func TestLoudnessIsMatchedThroughTheGate(t *testing.T) {
	reference, soft := gated(0.1, 0.04), gated(1e-3, 4e-4) // -60 and -68 dBFS: one under the gate
	soft2, ok := loudnessGain(soft, reference)
	if !ok {
		t.Fatal("no gain")
	}
	want, _ := reference.Integrated()
	got, _ := soft.IntegratedAt(soft2)
	if math.Abs(float64(got-want)) > 1e-4 {
		t.Errorf("%g LUFS, want %g", float64(got), float64(want))
	}
}

// Files are classified by their first four seconds.
func TestBeginning(t *testing.T) {
	for frames, want := range map[int]int{3500: 3500, 4000: 4000, 9000: 4000} {
		m := &memory{audio: [][]float64{make([]float64, frames)}, format: wave.Format{Rate: 1000, Channels: 1}}
		if x, err := beginning(m); err != nil || len(x) != want {
			t.Errorf("%d frames: %d, %v", frames, len(x), err)
		}
	}
}

// Static laws are oversampled four times and those in time sixteen times; both cover one
// and a half times the loudest level; rendering takes a law of a ten-millionth.
func TestDefaultsOfSolvers(t *testing.T) {
	for name, want := range map[string]int{"pair-1w": 4, "pair-12w-feedback": 16} {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		b, err := NewBench(Options{Spec: spec, Levels: []level.DB{6, -20}})
		if err != nil {
			t.Fatal(err)
		}
		if b.options.Oversample != want {
			t.Errorf("%s: oversampled %d times", name, b.options.Oversample)
		}
		if got, want := b.solving.hi, 1.5*b.Ladder().Drive()*level.DB(6).Amplitude(); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("%s: law up to %g V, want %g", name, got, want)
		}
		if w, ok := b.way.(dynamicWay); ok {
			p, err := w.reference(48000, -20)
			if err != nil {
				t.Fatal(err)
			}
			if down := p.(*timeProcessor).Small(); math.Abs(down/1e-4-1) > 1e-12 {
				t.Errorf("the reference at -20 dB is %g of the input, want a hundred-thousandth of full level", down)
			}
		}
	}
	spec, err := stage.Lookup("pair-1w")
	if err != nil {
		t.Fatal(err)
	}
	r, err := prepare(t.Context(), t.TempDir(), Options{Spec: spec, Settings: []stage.Setting{stage.Bias(1.1)}, Levels: []level.DB{-20}})
	if err != nil {
		t.Fatal(err)
	}
	if want := 1.5 * r.ladder.Drive(); math.Abs(r.hi/want-1) > 1e-12 {
		t.Errorf("law up to %g V, want %g", r.hi, want)
	}
	law, err := shape.Fit(r.rungs[0].Biased().Transfer, r.lo, r.hi, bias.RenderTolerance*r.hi)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 101 {
		if x := r.hi * (float64(i)/50 - 1); r.rungs[0].law.At(x) != law.At(x) {
			t.Fatalf("law at %g V: %g, want %g", x, r.rungs[0].law.At(x), law.At(x))
		}
	}
	if l := DefaultLevels(); len(l) != 2 || l[0] != 0 || l[1] != -30 {
		t.Errorf("levels %v", l)
	}
}

// What a source has too few or too many bits of is written with 16 or 32; generated
// material has 24.
func TestFormatEdges(t *testing.T) {
	for _, c := range []struct {
		encoding   wave.Encoding
		bits, want int
	}{{wave.PCM, 8, 16}, {wave.PCM, 16, 16}, {wave.PCM, 24, 24}, {wave.Float, 32, 32}, {wave.Float, 64, 32}} {
		if got := outputFormat(wave.Format{Encoding: c.encoding, Bits: c.bits}, nil).Bits; got != c.want {
			t.Errorf("%+v: %d bits", c, got)
		}
	}
	for name, bits := range map[string]int{"pcm16": 16, "pcm24": 24, "pcm32": 32, "float32": 32} {
		if f, err := ParseFormat(name); err != nil || f.Bits != bits {
			t.Errorf("%s: %d bits, %v", name, f.Bits, err)
		}
	}
	m, err := signal.Lookup("tone")
	if err != nil {
		t.Fatal(err)
	}
	described, err := Material{Material: m, Rate: 48000, Seed: 1}.Describe()
	if err != nil || !strings.Contains(described.Format, "24") {
		t.Errorf("%q, %v", described.Format, err)
	}
}

// Names of files have four digits of a setting.
func TestDigitsOfNames(t *testing.T) {
	for setting, want := range map[stage.Setting]string{
		stage.Quiescent(0.0734567): "03-quiescent-73.46mA", stage.Bias(1.2345678): "03-bias-1.235V", stage.AsBuilt(): "03-as-built",
	} {
		if got := rungName(2, setting); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}
