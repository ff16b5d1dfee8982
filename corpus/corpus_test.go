package corpus

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
)

// sample returns a manifest of one item and one rung.
func sample() *Manifest {
	silent := level.DB(math.Inf(-1))
	rendering := Rendering{Gain: 0.95, Applied: 0.4, Track: Track{File: "a/0dB/01.wav", Loudness: silent}}
	rendering.Residual.File = "a/0dB/01-residual.wav"
	return &Manifest{
		Schema: SchemaVersion, Program: "quietcross", Stage: "demo", Drive: 15,
		Rungs: []bias.Rung{{ID: "01", Setting: "bias", Value: 1.2}},
		Items: []Item{{ID: "a/0dB", Rate: 48000, Channels: 1, Frames: 100, Reference: Track{File: "a/0dB/reference.wav"}, Renderings: []Rendering{rendering}}},
	}
}

// TestManifestRoundTrip writes and reads a manifest, a silent level included.
func TestManifestRoundTrip(t *testing.T) {
	dir, want := t.TempDir(), sample()
	if err := want.Write(dir); err != nil {
		t.Fatal(err)
	}
	got, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("read back %+v, want %+v", got, want)
	}
}

// TestReadRefuses gives manifests that must not be followed.
func TestReadRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Manifest)
		want   string
	}{
		"another version":      {func(m *Manifest) { m.Schema = 99 }, "version 99"},
		"a rendering missing":  {func(m *Manifest) { m.Items[0].Renderings = nil }, "0 renderings for 1 rungs"},
		"a way out of the set": {func(m *Manifest) { m.Items[0].Reference.File = "../secret.wav" }, "does not lie inside"},
		"an absolute path":     {func(m *Manifest) { m.Items[0].Renderings[0].File = "/etc/passwd" }, "does not lie inside"},
		"a backslash":          {func(m *Manifest) { m.Items[0].Renderings[0].Residual.File = `a\b.wav` }, "does not lie inside"},
	} {
		dir, m := t.TempDir(), sample()
		c.change(m)
		if err := m.Write(dir); err != nil {
			t.Fatal(err)
		}
		if _, err := Read(dir); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), ManifestFile) {
			t.Errorf("%s: error %v, want one that names the file and says %q", name, err, c.want)
		}
	}
	if _, err := Read(t.TempDir()); err == nil || !strings.Contains(err.Error(), "not a rendered set") {
		t.Errorf("an empty folder: error %v", err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, ManifestFile), []byte(`{"schema": 1, "items": 7}`), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Read(dir); err == nil || !strings.Contains(err.Error(), "byte ") {
		t.Errorf("a number for the items: error %v, want one with its place", err)
	}
}

// TestWarningsNameTheirPlace gathers the warnings of a set.
func TestWarningsNameTheirPlace(t *testing.T) {
	m := sample()
	m.Warnings = []string{"of the set"}
	m.Items[0].Warnings = []string{"of the item"}
	m.Items[0].Renderings[0].Clipped = 3
	m.Items[0].Renderings[0].OutOfRange = 2
	text := strings.Join(m.AllWarnings(), "\n")
	for _, want := range []string{"of the set", "a/0dB: of the item", "a/0dB/01.wav: 3 samples", "a/0dB/01.wav: 2 oversampled"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q lacks %q", text, want)
		}
	}
}

// A manifest has up to 64 MiB: one beyond that is refused for it, unread.
func TestLongManifest(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, ManifestFile)
	for size, long := range map[int64]bool{64 << 20: false, 64<<20 + 1: true} {
		if err := errors.Join(os.WriteFile(path, []byte("?"), 0o666), os.Truncate(path, size)); err != nil {
			t.Fatal(err)
		}
		if _, err := Read(dir); err == nil || strings.Contains(err.Error(), "legal are up to 67108864") != long {
			t.Errorf("%d bytes: %v", size, err)
		}
	}
}
