package intake

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/dsp/wave"
)

// tool returns the path of a program that a test needs; where it is missing the
// test is skipped, or fails under CI.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed, and nothing is skipped under CI", name)
		}
		t.Skipf("%s is not installed (Debian: apt-get install sox)", name)
	}
	return path
}

// soxPair writes the same noise as FLAC and as WAV with sox, an independent
// encoder and decoder.
func soxPair(t *testing.T, rate, bits, channels string) (flacPath, wavPath string) {
	t.Helper()
	sox := tool(t, "sox")
	dir := t.TempDir()
	flacPath, wavPath = filepath.Join(dir, "a.flac"), filepath.Join(dir, "a.wav")
	for _, args := range [][]string{
		{"-R", "-n", "-r", rate, "-b", bits, "-c", channels, flacPath, "synth", "0.3", "pinknoise", "gain", "-3"},
		{flacPath, wavPath},
	} {
		if output, err := exec.Command(sox, args...).CombinedOutput(); err != nil {
			t.Fatalf("sox %q: %v\n%s", args, err, output)
		}
	}
	return flacPath, wavPath
}

func readAll(t *testing.T, path string, block int) (wave.Format, [][]float64, error) {
	t.Helper()
	s, err := Open(path)
	if err != nil {
		return wave.Format{}, nil, err
	}
	defer s.Close()
	all := make([][]float64, s.Format().Channels)
	buffer := make([][]float64, s.Format().Channels)
	for c := range buffer {
		buffer[c] = make([]float64, block)
	}
	for {
		n, err := s.Read(buffer)
		for c := range all {
			all[c] = append(all[c], buffer[c][:n]...)
		}
		if errors.Is(err, io.EOF) {
			if int64(len(all[0])) != s.Frames() {
				t.Errorf("%s: %d frames read, %d stated", path, len(all[0]), s.Frames())
			}
			return s.Format(), all, nil
		}
		if err != nil {
			return s.Format(), all, err
		}
	}
}

// TestFLACAgainstSox holds the samples of FLAC files to those of the WAV files
// that sox decodes from them, bit for bit.
func TestFLACAgainstSox(t *testing.T) {
	for _, c := range []struct{ rate, bits, channels string }{
		{"44100", "16", "1"}, {"48000", "24", "2"}, {"96000", "24", "1"}, {"8000", "16", "2"}, {"48000", "16", "6"},
	} {
		flacPath, wavPath := soxPair(t, c.rate, c.bits, c.channels)
		for _, block := range []int{1, 1000, 1 << 16} {
			format, got, err := readAll(t, flacPath, block)
			if err != nil {
				t.Fatal(err)
			}
			wantFormat, want, err := readAll(t, wavPath, 4096)
			if err != nil {
				t.Fatal(err)
			}
			if format.Rate != wantFormat.Rate || format.Bits != wantFormat.Bits || len(got) != len(want) || len(got[0]) != len(want[0]) {
				t.Fatalf("%v: %v of %d frames, sox says %v of %d", c, format, len(got[0]), wantFormat, len(want[0]))
			}
			for ch := range want {
				for i := range want[ch] {
					if got[ch][i] != want[ch][i] {
						t.Fatalf("%v: channel %d frame %d: %g, sox says %g", c, ch, i, got[ch][i], want[ch][i])
					}
				}
			}
		}
	}
}

// TestDamagedFLAC changes and cuts a file at many places: each must be reported,
// none may panic or come out as if whole.
func TestDamagedFLAC(t *testing.T) {
	path, _ := soxPair(t, "44100", "16", "1")
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	start := strings.LastIndex(string(whole[:min(len(whole), 16<<10)]), "\xff\xf8")
	if start < 0 {
		t.Fatal("no frame found")
	}
	damaged := filepath.Join(t.TempDir(), "damaged.flac")
	check := func(what string, at int, content []byte) {
		if err := os.WriteFile(damaged, content, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, _, err := readAll(t, damaged, 4096); err == nil {
			t.Errorf("%s at byte %d went unnoticed", what, at)
		} else if !strings.Contains(err.Error(), "damaged.flac") {
			t.Errorf("%s at byte %d: error %q does not name the file", what, at, err)
		}
	}
	for i := range 100 {
		at := start + 4 + i*(len(whole)-start-5)/100
		changed := append([]byte(nil), whole...)
		changed[at] ^= 0x55
		check("a change", at, changed)
		check("a cut", at, whole[:at])
	}
}

// TestRefusedKinds writes the first bytes of files that are not accepted.
func TestRefusedKinds(t *testing.T) {
	for head, want := range map[string]string{
		"ID3\x04\x00":           "lossy",
		"\xff\xfb\x90\x64":      "lossy",
		"OggS\x00\x02":          "lossy",
		"\x00\x00\x00\x20ftypM": "lossy",
		"FORM\x00\x00\x00\x00":  "AIFF",
		"fLaC\x00\x00":          "FLAC",
		"":                      "empty.bin",
		"just some text":        "empty.bin",
	} {
		path := filepath.Join(t.TempDir(), "empty.bin")
		if err := os.WriteFile(path, []byte(head), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) {
			t.Errorf("%q: error %v, want one that names the file and says %q", head, err, want)
		}
	}
}
