package render

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// floatFile writes a mono float file of the given width byte by byte, after the
// layout of the RIFF specification, and returns its path.
func floatFile(t *testing.T, path string, bits int, x []float64) string {
	t.Helper()
	size := bits / 8
	b := binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(36+size*len(x)))
	b = binary.LittleEndian.AppendUint32(append(b, "WAVEfmt "...), 16)
	for _, v := range []any{uint16(3), uint16(1), uint32(48000), uint32(48000 * size), uint16(size), uint16(bits)} {
		b, _ = binary.Append(b, binary.LittleEndian, v)
	}
	b = binary.LittleEndian.AppendUint32(append(b, "data"...), uint32(size*len(x)))
	for _, v := range x {
		if bits == 64 {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		} else {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(v)))
		}
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// kilohertz returns one second of a tone of 1,000 Hz at 48 kHz.
func kilohertz(amplitude float64) []float64 {
	x := make([]float64, 48000)
	for i := range x {
		x[i] = amplitude * math.Sin(2*math.Pi*1000*float64(i)/48000)
	}
	return x
}

func oneRung(t *testing.T) Options {
	return Options{Spec: demoSpec(t), Settings: []stage.Setting{stage.Bias(1.2)}, Levels: []level.DB{0}}
}

// TestWideFloatIsRendered takes a 64-bit float file with default options: the set
// is of 32-bit float.
func TestWideFloatIsRendered(t *testing.T) {
	path := floatFile(t, filepath.Join(t.TempDir(), "wide.wav"), 64, kilohertz(0.5))
	dir, m := run(t, []Source{File{Path: path}}, oneRung(t))
	format, audio, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(m.Items[0].Reference.File)))
	if err != nil || format.Encoding != wave.Float || format.Bits != 32 || len(audio[0]) != 48000 {
		t.Errorf("%v of %d frames, %v", format, len(audio[0]), err)
	}
}

// TestSamplesThatAreNoNumbers renders a file with a NaN and an infinity: the item
// says so, and where the file comes from.
func TestSamplesThatAreNoNumbers(t *testing.T) {
	x := kilohertz(0.5)
	x[100], x[200] = math.NaN(), math.Inf(1)
	path := floatFile(t, filepath.Join(t.TempDir(), "odd.wav"), 32, x)
	_, m := run(t, []Source{File{Path: path}}, oneRung(t))
	if text := strings.Join(m.AllWarnings(), "\n"); !strings.Contains(text, "odd.wav: frame 100: the first of 2 samples") {
		t.Errorf("warnings %q", text)
	}
}

// TestTruncatedFileIsNamed cuts a file's end off.
func TestTruncatedFileIsNamed(t *testing.T) {
	path := floatFile(t, filepath.Join(t.TempDir(), "cut.wav"), 32, kilohertz(0.5))
	if err := os.Truncate(path, 100_000); err != nil {
		t.Fatal(err)
	}
	_, m := run(t, []Source{File{Path: path}}, oneRung(t))
	if text := strings.Join(m.AllWarnings(), "\n"); !strings.Contains(text, "cut.wav: byte 40: truncated") {
		t.Errorf("warnings %q", text)
	}
}

// TestUnmatchedPeakIsSaid renders through a stage with gain and leaves its level:
// what would be played beyond full scale is warned of, and nothing that is not.
func TestUnmatchedPeakIsSaid(t *testing.T) {
	spec, err := stage.Lookup("pair-12w-feedback")
	if err != nil {
		t.Fatal(err)
	}
	path := floatFile(t, filepath.Join(t.TempDir(), "tone.wav"), 32, kilohertz(0.9)[:4800])
	for _, c := range []struct {
		level level.DB
		warns bool
	}{{0, true}, {-60, false}} {
		o := oneRung(t)
		o.Spec, o.Settings, o.Match, o.Levels = spec, []stage.Setting{stage.AsBuilt()}, MatchOff, []level.DB{c.level}
		o.Format = &wave.Format{Encoding: wave.Float, Bits: 32}
		_, m := run(t, []Source{File{Path: path}}, o)
		text := strings.Join(m.AllWarnings(), "\n")
		if strings.Contains(text, "turn the volume down") != c.warns {
			t.Errorf("at %v, peak %v: warnings %q", c.level, m.Items[0].Renderings[0].Peak, text)
		}
	}
}

// TestToneIsCalledByItsFrequency: a second of 1,000 Hz, whole cycles.
func TestToneIsCalledByItsFrequency(t *testing.T) {
	path := floatFile(t, filepath.Join(t.TempDir(), "tone.wav"), 32, kilohertz(0.5))
	source, err := File{Path: path}.Describe()
	if err != nil {
		t.Fatal(err)
	}
	if len(source.Tones) != 1 || math.Abs(source.Tones[0]-1000) > 1e-6 {
		t.Errorf("tones %.9v", source.Tones)
	}
}

// TestEqualNamesAreToldApart renders files of one name from two folders, and one
// file twice.
func TestEqualNamesAreToldApart(t *testing.T) {
	dir := t.TempDir()
	one := floatFile(t, filepath.Join(dir, "one", "take.wav"), 32, kilohertz(0.5)[:2000])
	two := floatFile(t, filepath.Join(dir, "two", "take.wav"), 32, kilohertz(0.5)[:2000])
	other := floatFile(t, filepath.Join(dir, "two", "other.wav"), 32, kilohertz(0.5)[:2000])
	var sources []Source
	for _, file := range Files([]string{one, two, other, two}) {
		sources = append(sources, file)
	}
	_, m := run(t, sources, oneRung(t))
	var names, ids []string
	for _, item := range m.Items {
		names, ids = append(names, item.Source.Name), append(ids, item.ID)
	}
	if got, want := strings.Join(names, " "), "one/take.wav two/take.wav other.wav two/take.wav"; got != want {
		t.Errorf("named %q, want %q", got, want)
	}
	if got, want := strings.Join(ids, " "), "one-take/0dB two-take/0dB other/0dB two-take-2/0dB"; got != want {
		t.Errorf("folders %q, want %q", got, want)
	}
}
