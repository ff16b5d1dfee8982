package render

import (
	"fmt"
	"path/filepath"
	"runtime"
	"testing"

	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// BenchmarkRender renders 60 s of mono at 48 kHz in 24 bits, reading and writing
// included: one bias on one thread, eight on one, eight on two. ns/sample is the
// time for each base-rate sample and bias.
func BenchmarkRender(b *testing.B) {
	path := benchFile(b)
	frames := 60 * 48000
	eight := make([]stage.Setting, 8)
	for i := range eight {
		eight[i] = stage.Bias(1.4 * float64(i) / 7)
	}
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		settings []stage.Setting
		threads  int
	}{{[]stage.Setting{stage.Bias(1.2)}, 1}, {eight, 1}, {eight, 2}} {
		b.Run(fmt.Sprintf("biases=%d/threads=%d", len(c.settings), c.threads), func(b *testing.B) {
			defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(c.threads))
			for b.Loop() {
				_, err := Run(b.Context(), b.TempDir(), []Source{File{Path: path}}, Options{
					Spec: spec, Settings: c.settings, Levels: []level.DB{0},
				})
				if err != nil {
					b.Fatal(err)
				}
			}
			perSample := float64(b.Elapsed().Nanoseconds()) / float64(b.N) / float64(frames) / float64(len(c.settings))
			b.ReportMetric(perSample, "ns/sample")
		})
	}
}

// benchFile writes a minute of music by repeating built-in material.
func benchFile(b *testing.B) string {
	b.Helper()
	m, err := signal.Lookup("struck-string")
	if err != nil {
		b.Fatal(err)
	}
	audio, err := m.Generate(48000, 1)
	if err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(b.TempDir(), "minute.wav")
	w, err := wave.Create(path, wave.Format{Rate: 48000, Channels: 1, Encoding: wave.PCM, Bits: 24}, wave.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for left := 60 * 48000; left > 0; {
		n := min(left, len(audio[0]))
		if err := w.Write([][]float64{audio[0][:n]}); err != nil {
			b.Fatal(err)
		}
		left -= n
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	return path
}
