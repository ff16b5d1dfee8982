package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/dsp/wave"
)

// toneFile writes seconds of a tone of 1,000 Hz, limited to ±limit, as 32-bit float
// at 48 kHz and returns its path.
func toneFile(t *testing.T, name string, seconds, amplitude, limit float64) string {
	t.Helper()
	x := make([]float64, int(48000*seconds))
	for i := range x {
		x[i] = min(max(amplitude*math.Sin(2*math.Pi*1000*float64(i)/48000), -limit), limit)
	}
	path := filepath.Join(t.TempDir(), name)
	w, err := wave.Create(path, wave.Format{Rate: 48000, Channels: 1, Encoding: wave.Float, Bits: 32}, wave.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write([][]float64{x}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestMeasureSaysWhatIsOdd cuts a file and puts a NaN into another: warnings on the
// screen and in JSON.
func TestMeasureSaysWhatIsOdd(t *testing.T) {
	path := toneFile(t, "odd.wav", 1, 0.5, 1)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	copy(b[len(b)-4000:], []byte{0, 0, 0xC0, 0x7F}) // a quiet NaN, IEEE 754
	if err := os.WriteFile(path, b[:len(b)-400], 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"measure", path}, {"measure", "--json", path}, {"measure", "--reference", path, path}} {
		code, stdout, stderr := command(t, args...)
		if code != exitDone {
			t.Fatalf("exit code %d: %s", code, stderr)
		}
		for _, want := range []string{"truncated", "samples replaced by 0"} {
			if strings.Count(stdout, want) < 1 {
				t.Errorf("%q: %q is not said: %.600s", args, want, stdout)
			}
		}
	}
}

// TestClippingIsSaidOnce measures a clipped tone.
func TestClippingIsSaidOnce(t *testing.T) {
	_, stdout, _ := command(t, "measure", toneFile(t, "clipped.wav", 1, 0.7, 0.5))
	if n := strings.Count(stdout, "warning: clipped"); n != 1 {
		t.Errorf("said %d times:\n%s", n, stdout)
	}
}

// TestUncertaintyOfNothing measures a tone without DC: no figure is uncertain by
// hundreds of decibels.
func TestUncertaintyOfNothing(t *testing.T) {
	_, stdout, _ := command(t, "measure", toneFile(t, "clean.wav", 1, 0.5, 1))
	for line := range strings.Lines(stdout) {
		if _, after, ok := strings.Cut(line, "±"); ok && strings.Contains(line, "DC beside the tone") {
			t.Errorf("±%s", after)
		}
	}
}

// TestRefusalNamesTheFileOnce measures files that cannot be read.
func TestRefusalNamesTheFileOnce(t *testing.T) {
	dir := t.TempDir()
	for name, content := range map[string]string{
		"short.flac": "fLaC\x00\x00\x00\x22", "short.wav": "RIFF\x04\x00\x00\x00WAVE", "song.mp3": "ID3\x04",
	} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{
			{"measure", path},
			{"measure", "--reference", path, path},
			{"render", "--out", filepath.Join(dir, "set"), path},
		} {
			code, _, stderr := command(t, args...)
			if code != exitFailed || strings.Count(stderr, name) != 1 {
				t.Errorf("%q: exit code %d, %q names the file %d times, want once", args[0], code, stderr, strings.Count(stderr, name))
			}
		}
	}
}

// TestNamesThatBeginWithADash measures such a file after "--", and refuses a flag in
// a file's place.
func TestNamesThatBeginWithADash(t *testing.T) {
	path := toneFile(t, "-x.wav", 1, 0.5, 1)
	t.Chdir(filepath.Dir(path))
	if code, _, stderr := command(t, "measure", "--", "-x.wav"); code != exitDone {
		t.Errorf("exit code %d: %s", code, stderr)
	}
	if code, _, stderr := command(t, "measure", "./-x.wav", "--json"); code != exitUsage || !strings.Contains(stderr, "write flags first") {
		t.Errorf("a flag after a file: exit code %d: %s", code, stderr)
	}
}

// TestProgressWithinAFile measures one long file on a terminal: the share moves
// before the end.
func TestProgressWithinAFile(t *testing.T) {
	path := toneFile(t, "long.wav", 20, 0.5, 1)
	var stdout, stderr bytes.Buffer
	if code := run(t.Context(), []string{"quietcross", "measure", path}, &stdout, &stderr, true); code != exitDone {
		t.Fatal(stderr.String())
	}
	if n := strings.Count(stderr.String(), "measuring:"); n < 2 {
		t.Errorf("drawn %d times: %q", n, stderr.String())
	}
}

// TestOnePermissionASet renders and looks at every file's mode.
func TestOnePermissionASet(t *testing.T) {
	out := filepath.Join(t.TempDir(), "set")
	if code, _, stderr := command(t, "render", "--out", out, "--bias", "1.2V", "--level", "0", toneFile(t, "a.wav", 0.3, 0.5, 1)); code != exitDone {
		t.Fatal(stderr)
	}
	modes := map[string][]string{}
	filepath.WalkDir(out, func(path string, entry os.DirEntry, err error) error {
		if info, err := entry.Info(); err == nil {
			modes[info.Mode().String()] = append(modes[info.Mode().String()], filepath.Base(path))
		}
		return err
	})
	if len(modes) != 2 { // one of files, one of folders
		t.Errorf("%v", modes)
	}
}

// TestListsAsJSON reads what lists the stages and the material for programs.
func TestListsAsJSON(t *testing.T) {
	for command, fields := range map[string][]string{
		"stage list --json":    {"name", "circuit", "title"},
		"material list --json": {"name", "seconds", "channels", "kind"},
	} {
		code, stdout, stderr := commandLine(t, command)
		var rows []map[string]any
		if err := json.Unmarshal([]byte(stdout), &rows); code != exitDone || err != nil || len(rows) < 10 {
			t.Fatalf("%s: exit code %d, %v, %d rows: %s", command, code, err, len(rows), stderr)
		}
		for _, row := range rows {
			for _, field := range fields {
				if row[field] == nil || row[field] == "" {
					t.Errorf("%s: %v has no %s", command, row, field)
				}
			}
		}
	}
}

func commandLine(t *testing.T, line string) (code int, stdout, stderr string) {
	t.Helper()
	return command(t, strings.Fields(line)...)
}
