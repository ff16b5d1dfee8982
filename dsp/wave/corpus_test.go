package wave

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestFilesOfOthers reads the files in testdata/wav, whose origin its README.md
// states: format, length, and the tone of half amplitude in each.
func TestFilesOfOthers(t *testing.T) {
	for name, c := range map[string]struct {
		want      Format
		frames    int64
		frequency float64
		warning   string
	}{
		"sox-8-odd":         {Format{8000, 1, PCM, 8, 8, false, 0}, 101, 500, ""},
		"sox-16":            {Format{48000, 2, PCM, 16, 16, false, 0}, 100, 1000, ""},
		"sox-24-extensible": {Format{48000, 2, PCM, 24, 24, true, 3}, 100, 1000, ""},
		"sox-24-six":        {Format{96000, 6, PCM, 24, 24, true, 0x3F}, 50, 1000, ""},
		"sox-float32":       {Format{44100, 1, Float, 32, 32, false, 0}, 100, 1000, ""},
		"sox-float64":       {Format{44100, 1, Float, 64, 64, false, 0}, 100, 1000, ""},
		"sox-pipe":          {Format{48000, 1, PCM, 16, 16, false, 0}, 100, 1000, "never filled in"},
		"espeak-pipe":       {Format{22050, 1, PCM, 16, 16, false, 0}, 1000, 0, "never filled in"},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Open(filepath.Join("testdata", "wav", name+".wav"))
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			if r.Format() != c.want || r.Frames() != c.frames {
				t.Errorf("%+v, %d frames; want %+v, %d", r.Format(), r.Frames(), c.want, c.frames)
			}
			if w := strings.Join(r.Warnings(), "\n"); (c.warning == "") != (w == "") || !strings.Contains(w, c.warning) {
				t.Errorf("warnings %q; want %q", w, c.warning)
			}
			if c.frequency == 0 {
				return
			}
			for _, x := range samples(t, r) {
				for i := range x {
					want := 0.5 * math.Sin(2*math.Pi*c.frequency*float64(i)/float64(c.want.Rate))
					near(t, "sample", x[i], want, 1.01*step(c.want)+2*0x1p-31)
				}
			}
		})
	}
}

// TestCompressedFilesOfOthers refuses each by its number in the registry.
func TestCompressedFilesOfOthers(t *testing.T) {
	for name, coding := range map[string]string{
		"sox-tag-0006": "0x0006 (a compressed format)",
		"sox-tag-0007": "0x0007 (a compressed format)",
		"sox-tag-0011": "0x0011 (a compressed format)",
		"sox-tag-0002": "0x0002 (a compressed format)",
		"sox-tag-0031": "0x0031 (a compressed format)",
	} {
		_, err := Open(filepath.Join("testdata", "wav", name+".wav"))
		if e := fault(t, err, 20); !strings.Contains(e.Found, coding) {
			t.Errorf("%s: %q; want %q", name, e.Found, coding)
		}
	}
}

// corpus returns the files of testdata/wav.
func corpus(tb testing.TB) [][]byte {
	tb.Helper()
	paths, err := filepath.Glob(filepath.Join("testdata", "wav", "*.wav"))
	if err != nil || len(paths) < 13 {
		tb.Fatalf("%d test files, %v", len(paths), err)
	}
	var all [][]byte
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			tb.Fatal(err)
		}
		all = append(all, b)
	}
	return all
}

// TestEveryTruncation cuts each file at every length. Either it is refused with
// an offset within what is left, or it holds the frames that are there, a
// prefix of the whole.
func TestEveryTruncation(t *testing.T) {
	for _, b := range corpus(t) {
		whole, err := readBytes(b)
		if err != nil {
			continue
		}
		want := samples(t, whole)
		for n := range b {
			r, err := readBytes(b[:n])
			if err != nil {
				if at := asOffset(err); at < 0 || at > int64(n) {
					t.Fatalf("cut at %d: %v", n, err)
				}
				continue
			}
			if r.Frames() > whole.Frames() || r.Frames() < whole.Frames() && len(r.Warnings()) == 0 {
				t.Fatalf("cut at %d: %d frames of %d, %q", n, r.Frames(), whole.Frames(), r.Warnings())
			}
			compare(t, samples(t, r), cut(want, 0, int(r.Frames())))
		}
	}
}

// asOffset is the offset that an *Error states.
func asOffset(err error) int64 {
	var e *Error
	if errors.As(err, &e) {
		return e.Offset
	}
	return -1
}
