package render

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/corpus"
	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

func material(t *testing.T, name string) Source {
	t.Helper()
	m, err := signal.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	return Material{Material: m, Rate: 48000, Seed: 1}
}

func demoSpec(t *testing.T) stage.Spec {
	t.Helper()
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	return spec
}

func run(t *testing.T, sources []Source, o Options) (string, *corpus.Manifest) {
	t.Helper()
	dir := t.TempDir()
	m, err := Run(t.Context(), dir, sources, o)
	if err != nil {
		t.Fatal(err)
	}
	return dir, m
}

// holdsWhatItsManifestNames reads a set back: each file is there, has the source's length
// and the stated peak, and nothing else lies about.
func holdsWhatItsManifestNames(t *testing.T, dir string) {
	m, err := corpus.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	named := map[string]bool{corpus.ManifestFile: true, corpus.StageFile: true}
	for _, item := range m.Items {
		for _, file := range item.Files() {
			named[file] = true
			format, audio, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
			if err != nil {
				t.Fatal(err)
			}
			if format.Rate != item.Rate || len(audio) != item.Channels || int64(len(audio[0])) != item.Frames {
				t.Errorf("%s: %v with %d frames, manifest says %d channels at %d Hz with %d frames", file, format, len(audio[0]), item.Channels, item.Rate, item.Frames)
			}
		}
		checkPeak(t, dir, item.Reference)
		for _, r := range item.Renderings {
			checkPeak(t, dir, r.Track)
			checkPeak(t, dir, r.Residual.Track)
		}
	}
	err = filepath.WalkDir(dir, func(path string, entry os.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if !named[filepath.ToSlash(name)] {
			t.Errorf("the set holds %s, which the manifest does not name", name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func checkPeak(t *testing.T, dir string, track corpus.Track) {
	t.Helper()
	_, audio, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(track.File)))
	if err != nil {
		t.Fatal(err)
	}
	peak := 0.0
	for _, channel := range audio {
		peak = max(peak, level.Peak(channel))
	}
	const dither = 2.0 / (1 << 23)
	if math.Abs(peak-track.Peak.Amplitude()) > dither {
		t.Errorf("%s: peak %v, manifest says %v", track.File, level.FromAmplitude(peak), track.Peak)
	}
}

// TestRenderingsAddUp holds the files against each other: with levels matched by
// gain, rendering less reference is the residual less its make-up.
func TestRenderingsAddUp(t *testing.T) {
	dir, m := run(t, []Source{material(t, "struck-string")}, Options{
		Spec: demoSpec(t), Settings: []stage.Setting{stage.Bias(1.2)}, Levels: []level.DB{-20},
		Match: MatchGain, Format: &wave.Format{Encoding: wave.Float, Bits: 32},
	})
	item := m.Items[0]
	read := func(file string) []float64 {
		_, audio, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
		if err != nil {
			t.Fatal(err)
		}
		return audio[0]
	}
	r := item.Renderings[0]
	reference, rendering, residual := read(item.Reference.File), read(r.File), read(r.Residual.File)
	makeUp := r.Residual.MakeUp.Amplitude()
	for i := range reference {
		if want := rendering[i] - reference[i]; math.Abs(residual[i]/makeUp-want) > 1e-7 {
			t.Fatalf("frame %d: residual %g, rendering less reference %g", i, residual[i]/makeUp, want)
		}
	}
}

// TestMatching measures the written files by the meter: each way of matching does
// what it says.
func TestMatching(t *testing.T) {
	for _, match := range []Match{MatchLoudness, MatchGain, MatchOff} {
		dir, m := run(t, []Source{material(t, "struck-string")}, Options{
			Spec: demoSpec(t), Settings: []stage.Setting{stage.Quiescent(1e-3)}, Levels: []level.DB{-10}, Match: match,
		})
		item, r := m.Items[0], m.Items[0].Renderings[0]
		reference, rendering := loudnessOf(t, dir, item.Reference.File), loudnessOf(t, dir, r.File)
		switch match {
		case MatchLoudness:
			if math.Abs(float64(rendering-reference)) > 0.01 {
				t.Errorf("matched by loudness: %.3f against %.3f LUFS", rendering, reference)
			}
		case MatchGain:
			if want := -level.FromAmplitude(r.Gain); math.Abs(float64(r.Applied-want)) > 1e-9 {
				t.Errorf("matched by gain: applied %v, the fitted gain asks for %v", r.Applied, want)
			}
		case MatchOff:
			if r.Applied != 0 || rendering >= reference {
				t.Errorf("not matched: applied %v, %.3f against %.3f LUFS", r.Applied, rendering, reference)
			}
		}
	}
}

func loudnessOf(t *testing.T, dir, file string) level.DB {
	t.Helper()
	format, audio, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
	if err != nil {
		t.Fatal(err)
	}
	meter := level.NewMeter(float64(format.Rate), format.Channels)
	meter.Add(audio)
	loudness, ok := meter.Integrated()
	if !ok {
		t.Fatalf("%s: too quiet to measure", file)
	}
	return loudness
}

// TestWorkersDoNotChangeBits renders with one and with many workers.
func TestWorkersDoNotChangeBits(t *testing.T) {
	var sets [2]string
	for i, workers := range []int{1, 7} {
		sets[i], _ = run(t, []Source{material(t, "quiet-chord"), material(t, "tone")}, Options{
			Spec: demoSpec(t), Settings: []stage.Setting{stage.Bias(0), stage.Bias(1.2)}, Workers: workers, Seed: 5,
		})
	}
	t.Run("sets hold what their manifests name", func(t *testing.T) { holdsWhatItsManifestNames(t, sets[0]) })
	m, err := corpus.Read(sets[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range m.Items {
		for _, file := range item.Files() {
			a, errA := os.ReadFile(filepath.Join(sets[0], file))
			b, errB := os.ReadFile(filepath.Join(sets[1], file))
			if err := errors.Join(errA, errB); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(a, b) {
				t.Errorf("%s differs with the number of workers", file)
			}
		}
	}
}

// TestInterruptedRunLeavesNothing cancels in the middle of the work.
func TestInterruptedRunLeavesNothing(t *testing.T) {
	parent := t.TempDir()
	ctx, cancel := context.WithCancel(t.Context())
	err := corpus.Folder{Path: filepath.Join(parent, "set"), Mark: corpus.ManifestFile}.Create(func(dir string) error {
		_, err := Run(ctx, dir, []Source{material(t, "tone")}, Options{
			Spec: demoSpec(t),
			Progress: func(share float64) {
				if share > 0.3 {
					cancel()
				}
			},
		})
		return err
	})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("got error %v, want that it was cancelled", err)
	}
	left, err := os.ReadDir(parent)
	if err != nil {
		t.Fatal(err)
	}
	if len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestLoudStageIsTrimmedOrCounted drives a float file to twice full scale: with
// matching off the integers clip and are counted, never wrapped; with matching
// on all tracks are trimmed alike.
func TestLoudStageIsTrimmedOrCounted(t *testing.T) {
	path := writeTone(t, 1000, 48000, 48000)
	o := Options{
		Spec: idealSpec(), Settings: []stage.Setting{stage.Bias(1.2)}, Drive: new(float64(idealDrive)),
		Levels: []level.DB{6}, Match: MatchOff, Format: &wave.Format{Encoding: wave.PCM, Bits: 16},
	}
	dir, m := run(t, []Source{File{Path: path}}, o)
	item := m.Items[0]
	if item.Reference.Clipped == 0 || len(m.AllWarnings()) == 0 {
		t.Errorf("a reference at %v clipped %d samples, warnings %q", item.Reference.Peak, item.Reference.Clipped, m.AllWarnings())
	}
	_, audio, err := wave.ReadFile(filepath.Join(dir, item.Reference.File))
	if err != nil {
		t.Fatal(err)
	}
	for n, v := range audio[0] {
		want := max(-1, min(1, 1.9952623*math.Cos(2*math.Pi*float64(n)/48)))
		if math.Abs(v-want) > 1e-3 && n > 200 && n < 47800 {
			t.Fatalf("frame %d: %g, want %g: wrapped, not clipped", n, v, want)
		}
	}
	o.Match = MatchGain
	_, m = run(t, []Source{File{Path: path}}, o)
	item = m.Items[0]
	if item.Reference.Clipped != 0 || item.Trim > -6 {
		t.Errorf("matched: clipped %d, trim %v; want none clipped and a trim under -6 dB", item.Reference.Clipped, item.Trim)
	}
}

// TestDeadStageIsNotBlownUp renders a tone wholly inside the dead zone.
func TestDeadStageIsNotBlownUp(t *testing.T) {
	_, m := run(t, []Source{material(t, "tone")}, Options{
		Spec: demoSpec(t), Settings: []stage.Setting{stage.Bias(0)}, Levels: []level.DB{-40},
	})
	if r := m.Items[0].Renderings[0]; r.Applied != 0 {
		t.Errorf("applied %v to next to nothing", r.Applied)
	}
	if text := strings.Join(m.AllWarnings(), "\n"); !strings.Contains(text, "next to nothing passes") {
		t.Errorf("warnings %q do not say so", text)
	}
}
