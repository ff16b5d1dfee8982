package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// writeMaterialFile writes one piece or test signal and returns its path.
func writeMaterialFile(t *testing.T, name string) string {
	t.Helper()
	dir := t.TempDir()
	if code, _, stderr := command(t, "material", "write", dir, name); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	return filepath.Join(dir, name+".wav")
}

// TestMeasureFindsTheTone measures the tone of AES17, 997 Hz, as table, JSON and
// page.
func TestMeasureFindsTheTone(t *testing.T) {
	tone := writeMaterialFile(t, "aes17-997")
	page := filepath.Join(t.TempDir(), "result.html")
	code, table, stderr := command(t, "measure", "--page", page, tone)
	if code != exitDone || !strings.Contains(table, "997.000") || !strings.Contains(table, "AES17") {
		t.Errorf("exit code %d, printed %q and %q", code, table, stderr)
	}
	if html, err := os.ReadFile(page); err != nil || !strings.Contains(string(html), "AES17") {
		t.Errorf("page: %v, %d bytes", err, len(html))
	}
	code, text, stderr := command(t, "measure", "--json", tone)
	var document struct {
		Schema     int
		Recordings []struct {
			Report struct{ Channels []struct{ Kind string } }
		}
	}
	if err := json.Unmarshal([]byte(text), &document); code != exitDone || err != nil {
		t.Fatalf("exit code %d, %v: %s", code, err, stderr)
	}
	if kind := document.Recordings[0].Report.Channels[0].Kind; kind != "tone" || document.Schema != 1 {
		t.Errorf("schema %d, kind %q", document.Schema, kind)
	}
}

// TestMeasureAgainstReference holds a rendering against its reference.
func TestMeasureAgainstReference(t *testing.T) {
	out := filepath.Join(t.TempDir(), "set")
	if code, _, stderr := command(t, "render", "--out", out, "--material", "struck-string", "--bias", "1.2V", "--level", "-10", "--match", "off"); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	item := filepath.Join(out, "struck-string", "-10dB")
	code, table, stderr := command(t, "measure", "--reference", filepath.Join(item, "reference.wav"), filepath.Join(item, "01-bias-1.2V.wav"))
	if code != exitDone || !strings.Contains(table, "residual") || !strings.Contains(table, "delay") {
		t.Errorf("exit code %d, printed %q and %q", code, table, stderr)
	}
}

// TestAudibilityWritesItsFolder searches one short piece at one level.
func TestAudibilityWritesItsFolder(t *testing.T) {
	out := filepath.Join(t.TempDir(), "audible")
	code, table, stderr := command(t, "audibility", "--out", out, "--level", "-20", "--per-decade", "5", toneFile(t, "soft.wav", 0.5, 0.5, 1))
	if code != exitDone || !strings.Contains(table, "soft.wav") || !strings.Contains(table, "blind test") {
		t.Fatalf("exit code %d, printed %q and %q", code, table, stderr)
	}
	holdsCautions(t, "audibility", stderr, cautions["audibility"])
	pageHolds(t, filepath.Join(out, audibilityPage), cautions["audibility"])
	for _, name := range []string{audibilityPage, audibilityJSON, "01-reference.wav", "01-rendering.wav"} {
		if _, err := os.Stat(filepath.Join(out, name)); err != nil {
			t.Error(err)
		}
	}
}

// TestResultUsageErrors holds wrong command lines of the other commands to exit
// code 2.
func TestResultUsageErrors(t *testing.T) {
	for line, want := range map[string]string{
		"measure":                                "nothing to measure",
		"measure --kind whale a.wav":             "whale",
		"measure --notch-q 9 a.wav":              "1.2 to 3",
		"measure --linear-taps 9 a.wav":          "--reference",
		"audibility":                             "nothing to work on",
		"audibility --material tone --range 1mA": "FROM..TO",
		"audibility --material tone --playback 85 --sensitivity 90": "twice",
		"audibility --material tone --distance 3":                   "--sensitivity",
		"panel open":       "takes one rendered set",
		"panel result a b": "takes one rendered set",
		"completion fish":  "bash or zsh",
	} {
		code, _, stderr := command(t, strings.Fields(line)...)
		if code != exitUsage || !strings.Contains(stderr, want) {
			t.Errorf("%s: exit code %d, said %q, want %d and %q", line, code, stderr, exitUsage, want)
		}
	}
}
