package intake

import (
	"bytes"
	"os"
	"slices"
	"testing"
)

// TestFromMemory reads a file of each kind from memory as from disk.
func TestFromMemory(t *testing.T) {
	flacPath, wavPath := soxPair(t, "44100", "16", "2")
	for _, path := range []string{flacPath, wavPath} {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		_, want, err := readAll(t, path, 1000)
		if err != nil {
			t.Fatal(err)
		}
		s, err := New(bytes.NewReader(data), int64(len(data)), "memory")
		if err != nil {
			t.Fatal(err)
		}
		got := make([][]float64, 2)
		for c := range got {
			got[c] = make([]float64, s.Frames())
		}
		if n, err := s.Read(got); err != nil || int64(n) != s.Frames() {
			t.Fatalf("%s: %d frames of %d: %v", path, n, s.Frames(), err)
		}
		for c := range got {
			if !slices.Equal(got[c], want[c]) {
				t.Errorf("%s: channel %d reads otherwise than from disk", path, c)
			}
		}
	}
}
