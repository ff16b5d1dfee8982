package wave_test

import (
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"

	"quietcross/dsp/wave"
)

// A file is copied in blocks at half its amplitude, in its own format.
func Example() {
	dir, err := os.MkdirTemp("", "wave")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "half.wav")

	r, err := wave.Open(filepath.Join("testdata", "wav", "sox-24-extensible.wav"))
	if err != nil {
		log.Fatal(err)
	}
	defer r.Close()
	w, err := wave.Create(path, r.Format(), wave.Options{Seed: 1})
	if err != nil {
		log.Fatal(err)
	}
	defer w.Abort() // does nothing after Close
	if err := halve(w, r); err != nil {
		log.Fatal(err)
	}
	if err := w.Close(); err != nil {
		log.Fatal(err)
	}

	f, samples, err := wave.ReadFile(path)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(f)
	fmt.Printf("%d frames, frame 12: %.4f\n", len(samples[0]), samples[0][12])
	// Output:
	// 24-bit PCM, 2 channels, 48000 Hz
	// 100 frames, frame 12: 0.2500
}

func halve(w *wave.Writer, r *wave.Reader) error {
	block := make([][]float64, r.Format().Channels)
	for c := range block {
		block[c] = make([]float64, 4096)
	}
	for {
		n, err := r.Read(block)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		part := make([][]float64, len(block))
		for c := range block {
			part[c] = block[c][:n]
			for i := range part[c] {
				part[c][i] /= 2
			}
		}
		if err := w.Write(part); err != nil {
			return err
		}
	}
}
