package live_test

import (
	"encoding/json"
	"io"
	"math"
	"path/filepath"
	"runtime"
	"testing"

	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/reports/internal/compiled"
	"quietcross/reports/live"
	"quietcross/stage"
)

// rendered renders some seconds of a file as the render command does, unmatched and as
// 32-bit floats, by a solver, and returns the paths of the source and of what came out.
func rendered(t *testing.T, seconds int, name string, setting stage.Setting, l level.DB, solver render.Solver) (source, output string) {
	t.Helper()
	dir := t.TempDir()
	source = filepath.Join(dir, "source.wav")
	writeSource(t, source, seconds)
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	format := wave.Format{Encoding: wave.Float, Bits: 32}
	manifest, err := render.Run(t.Context(), dir, []render.Source{render.File{Path: source}}, render.Options{
		Spec: spec, Settings: []stage.Setting{setting}, Levels: []level.DB{l}, Match: render.MatchOff, Format: &format, Solver: solver,
	})
	if err != nil {
		t.Fatal(err)
	}
	return source, filepath.Join(dir, filepath.FromSlash(manifest.Items[0].Renderings[0].File))
}

// writeSource writes two channels of tones that do not fit the rate.
func writeSource(t *testing.T, path string, seconds int) {
	t.Helper()
	audio := make([][]float64, 2)
	for c, parts := range [][]float64{{113.7, 571.3, 3301.9}, {161.9, 997.7, 7013.3}} {
		audio[c] = make([]float64, seconds*48000)
		for i := range audio[c] {
			at := float64(i) / 48000
			for k, hertz := range parts {
				audio[c][i] += 0.3 * math.Sin(2*math.Pi*hertz*at+float64(k)) * math.Sin(math.Pi*at/float64(seconds))
			}
		}
	}
	w, err := wave.Create(path, wave.Format{Rate: 48000, Channels: 2, Encoding: wave.PCM, Bits: 24}, wave.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(audio); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// sameSound holds two files to the same samples. Where the command's processor fuses products
// and sums, which a page's engine never does, they may be -140 dB re full scale apart.
func sameSound(t *testing.T, a, b string) {
	t.Helper()
	d := apart(t, a, b)
	t.Logf("page and render command: %.1f dB re full scale apart", float64(d))
	if d > -140 || runtime.GOARCH == "amd64" && !math.IsInf(float64(d), -1) {
		t.Errorf("%.1f dB apart", float64(d))
	}
}

// apart returns the maximum difference of two files re full scale.
func apart(t *testing.T, a, b string) level.DB {
	t.Helper()
	x, y := readWhole(t, a), readWhole(t, b)
	worst := 0.0
	for c := range x {
		if len(x[c]) != len(y[c]) {
			t.Fatalf("%d frames, want %d", len(x[c]), len(y[c]))
		}
		for i := range x[c] {
			worst = max(worst, math.Abs(x[c][i]-y[c][i]))
		}
	}
	return level.FromAmplitude(worst)
}

func readWhole(t *testing.T, path string) [][]float64 {
	t.Helper()
	_, x, err := wave.ReadFile(path)
	if err != nil && err != io.EOF {
		t.Fatal(err)
	}
	return x
}

// TestCompiledEngine runs the engine, compiled for js/wasm, in node, by the calls that the
// page makes, and holds what it makes of a file to what the render command makes of it.
func TestCompiledEngine(t *testing.T) {
	const (
		name           = "pair-12w"
		volts          = 1.1
		l     level.DB = -6
	)
	folder := compiled.Folder(t)
	source, output := rendered(t, 2, name, stage.Bias(volts), l, render.SolverStatic)
	made := filepath.Join(t.TempDir(), "made.wav")
	asked, err := json.Marshal(map[string]any{"folder": folder, "source": source, "made": made, "stage": name, "bias": volts, "level": l})
	if err != nil {
		t.Fatal(err)
	}
	inNode(t, string(asked), script(t, "assets/worker.js"), script(t, filepath.Join(folder, live.SupportFile)), script(t, "testdata/compiled.js"))
	sameSound(t, made, output)
}
