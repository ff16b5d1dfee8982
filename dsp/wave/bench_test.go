package wave

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// benchFormats are the formats whose speed is stated in the documentation.
var benchFormats = []Format{
	{Rate: 48000, Channels: 1, Bits: 8, ValidBits: 8},
	{Rate: 48000, Channels: 1, Bits: 16, ValidBits: 16},
	{Rate: 48000, Channels: 2, Bits: 16, ValidBits: 16},
	{Rate: 48000, Channels: 2, Bits: 24, ValidBits: 24},
	{Rate: 48000, Channels: 8, Bits: 24, ValidBits: 24},
	{Rate: 48000, Channels: 2, Bits: 32, ValidBits: 32},
	{Rate: 48000, Channels: 2, Encoding: Float, Bits: 32, ValidBits: 32},
	{Rate: 48000, Channels: 2, Encoding: Float, Bits: 64, ValidBits: 64},
}

const benchBlock = 4096 // frames a call, as the renderer uses

func benchSignal(channels int) [][]float64 {
	block := make([][]float64, channels)
	for c := range block {
		block[c] = make([]float64, benchBlock)
		for i := range block[c] {
			block[c][i] = float64((i*7919+c*104729)%65536-32768) / 40000
		}
	}
	return block
}

// BenchmarkRead reads a file of 16 MiB from the page cache; MB/s are bytes of
// the file.
func BenchmarkRead(b *testing.B) {
	for _, f := range benchFormats {
		b.Run(benchName(f), func(b *testing.B) {
			path := filepath.Join(b.TempDir(), "in.wav")
			block := benchSignal(f.Channels)
			w, err := Create(path, f, Options{})
			if err != nil {
				b.Fatal(err)
			}
			blocks := 16 << 20 / (benchBlock * f.frameBytes())
			for range blocks {
				if err := w.Write(block); err != nil {
					b.Fatal(err)
				}
			}
			if err := w.Close(); err != nil {
				b.Fatal(err)
			}
			r, err := Open(path)
			if err != nil {
				b.Fatal(err)
			}
			defer r.Close()
			b.SetBytes(int64(benchBlock * f.frameBytes()))
			b.ReportAllocs()
			for b.Loop() {
				_, err := r.Read(block)
				if err == io.EOF {
					err = r.SeekFrame(0)
				}
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*benchBlock*f.Channels), "ns/sample")
		})
	}
}

// BenchmarkWrite writes to a file, dither included where integers are made.
func BenchmarkWrite(b *testing.B) {
	for _, f := range benchFormats {
		b.Run(benchName(f), func(b *testing.B) {
			block := benchSignal(f.Channels)
			w, err := Create(filepath.Join(b.TempDir(), "out.wav"), f, Options{})
			if err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(benchBlock * f.frameBytes()))
			b.ReportAllocs()
			for b.Loop() {
				if err := w.Write(block); err != nil {
					b.Fatal(err)
				}
				if w.header.content > 64<<20 { // keep the file short
					b.StopTimer()
					rewind(b, w)
					b.StartTimer()
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*benchBlock*f.Channels), "ns/sample")
			if err := w.Abort(); err != nil {
				b.Fatal(err)
			}
		})
	}
}

// rewind lets a Writer overwrite its samples.
func rewind(tb testing.TB, w *Writer) {
	tb.Helper()
	if _, err := w.file.(io.Seeker).Seek(w.header.length(), io.SeekStart); err != nil {
		tb.Fatal(err)
	}
	w.header.content, w.header.frames = 0, 0
}

func benchName(f Format) string {
	return fmt.Sprintf("%v%dx%d", f.Encoding, f.Bits, f.Channels)
}

// BenchmarkReadLibrary is the decoder of go-audio/wav on the same kind of file,
// into integers, for comparison with BenchmarkRead/PCM16x2.
func BenchmarkReadLibrary(b *testing.B) {
	path := filepath.Join(b.TempDir(), "in.wav")
	w, err := Create(path, Format{Rate: 48000, Channels: 2, Bits: 16}, Options{})
	if err != nil {
		b.Fatal(err)
	}
	for range 1024 {
		if err := w.Write(benchSignal(2)); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	d := wav.NewDecoder(f)
	buf := &audio.IntBuffer{Data: make([]int, 2*benchBlock)}
	b.SetBytes(4 * benchBlock)
	b.ReportAllocs()
	for b.Loop() {
		n, err := d.PCMBuffer(buf)
		if err == nil && n == 0 {
			err = d.Rewind()
		}
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*benchBlock*2), "ns/sample")
}
