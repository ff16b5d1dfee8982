package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// command runs one command line as a shell would and returns what it printed.
func command(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errOut bytes.Buffer
	code = run(t.Context(), append([]string{"quietcross"}, args...), &out, &errOut, false)
	return code, out.String(), errOut.String()
}

// TestUsageErrors holds wrong command lines to exit code 2 and to a message that
// says what was found and what is legal.
func TestUsageErrors(t *testing.T) {
	for _, c := range []struct {
		line string
		want []string
	}{
		{"frobnicate", []string{`no command "frobnicate"`}},
		{"stage frobnicate", []string{`no subcommand "frobnicate"`}},
		{"render", []string{"nothing to work on", "--material"}},
		{"render --nonsense", []string{"nonsense"}},
		{"render --material whale", []string{`"whale"`, "quiet-chord"}},
		{"render --material tone --stage tube", []string{`"tube"`, "pair-12w"}},
		{"render --material tone --bias 1A", []string{"--bias", `"1A"`, `"V"`}},
		{"render --material tone --quiescent 1mA..2mA", []string{"--quiescent", "FROM..TO/COUNT"}},
		{"render --material tone --level loud", []string{"--level", "loud"}},
		{"render --material tone --level -200", []string{"--level", "-120 to 20 dB"}},
		{"render --material tone --drive 0", []string{"--drive", "1 mV to 1 kV"}},
		{"render --material tone --match best", []string{`"best"`, "loudness, gain and off"}},
		{"render --material tone --format mp3", []string{`"mp3"`, "pcm16"}},
		{"render --material tone --oversample 3", []string{"found 3", "1, 2, 4, 8, 16 and 32"}},
		{"render song.wav --bias 1", []string{"write flags first"}},
		{"stage show", []string{"takes one stage"}},
		{"stage show nothing", []string{`"nothing"`, "pair-12w"}},
		{"material write", []string{"no folder"}},
	} {
		code, _, stderr := command(t, strings.Fields(c.line)...)
		if code != exitUsage {
			t.Errorf("%s: exit code %d, want %d; it said %q", c.line, code, exitUsage, stderr)
		}
		for _, want := range c.want {
			if !strings.Contains(stderr, want) {
				t.Errorf("%s: said %q, which lacks %q", c.line, stderr, want)
			}
		}
	}
}

// TestFailures holds work that cannot be done to exit code 1 and no output.
func TestFailures(t *testing.T) {
	dir := t.TempDir()
	notes := filepath.Join(dir, "notes.wav")
	if err := os.WriteFile(notes, []byte("these are notes, not sound: forty-four bytes or more"), 0o644); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "set")
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"render", "--out", out, filepath.Join(dir, "missing.wav")}, "missing.wav"},
		{[]string{"render", "--out", out, notes}, "notes.wav"},
		{[]string{"render", "--out", out, "--stage", filepath.Join(dir, "missing.toml"), "--material", "tone"}, "missing.toml"},
		{[]string{"render", "--out", out, "--quiescent", "1MA", "--material", "tone"}, "legal range"},
	} {
		code, _, stderr := command(t, c.args...)
		if code != exitFailed || !strings.Contains(stderr, c.want) {
			t.Errorf("%q: exit code %d, said %q, want code %d and a word of %q", c.args, code, stderr, exitFailed, c.want)
		}
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*set*")); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestRenderRefusesToReplace renders twice into one folder, then into a folder
// that holds something else.
func TestRenderRefusesToReplace(t *testing.T) {
	out := filepath.Join(t.TempDir(), "set")
	args := []string{"render", "--out", out, "--bias", "1.2V", "--level", "0", toneFile(t, "a.wav", 0.3, 0.5, 1)}
	if code, _, stderr := command(t, args...); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	if code, _, stderr := command(t, args...); code != exitUsage || !strings.Contains(stderr, "--force") {
		t.Errorf("second run: exit code %d, said %q", code, stderr)
	}
	if code, _, stderr := command(t, append([]string{"render", "--force"}, args[1:]...)...); code != exitDone {
		t.Errorf("with --force: exit code %d: %s", code, stderr)
	}
	if err := os.Remove(filepath.Join(out, "manifest.json")); err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := command(t, append([]string{"render", "--force"}, args[1:]...)...); code != exitFailed || !strings.Contains(stderr, "holds no manifest.json") {
		t.Errorf("over a foreign folder: exit code %d, said %q", code, stderr)
	}
}

// TestInterruptedCommand runs a command line whose context has ended.
func TestInterruptedCommand(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var stdout, stderr bytes.Buffer
	code := run(ctx, []string{"quietcross", "render", "--out", filepath.Join(dir, "set"), "--material", "tone"}, &stdout, &stderr, false)
	if code != exitFailed || !strings.Contains(stderr.String(), "interrupted") {
		t.Errorf("exit code %d, said %q", code, stderr.String())
	}
	if left, _ := os.ReadDir(dir); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestShownStageCanBeUsed prints a built-in stage, and inspects and renders the
// printed file.
func TestShownStageCanBeUsed(t *testing.T) {
	code, file, stderr := command(t, "stage", "show", "pair-1w")
	if code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	path := filepath.Join(t.TempDir(), "mine.toml")
	if err := os.WriteFile(path, []byte(file), 0o644); err != nil {
		t.Fatal(err)
	}
	picture := filepath.Join(t.TempDir(), "gain.svg")
	code, table, stderr := command(t, "stage", "inspect", "--picture", picture, path)
	if code != exitDone || !strings.Contains(table, "quiescent current") {
		t.Errorf("inspect: exit code %d, printed %q and %q", code, table, stderr)
	}
	if svg, err := os.ReadFile(picture); err != nil || !bytes.Contains(svg, []byte("<svg")) {
		t.Errorf("picture: %v, %d bytes", err, len(svg))
	}
	code, json, stderr := command(t, "stage", "inspect", "--json", "--bias", "0..1.2V/3", path)
	if code != exitDone || strings.Count(json, `"setting"`) != 3 {
		t.Errorf("inspect --json: exit code %d: %s%s", code, json, stderr)
	}
}

func TestMaterialIsWrittenOnce(t *testing.T) {
	dir := t.TempDir()
	if code, _, stderr := command(t, "material", "write", dir, "tone"); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	if code, _, stderr := command(t, "material", "write", dir, "tone"); code != exitUsage || !strings.Contains(stderr, "exists already") {
		t.Errorf("second run: exit code %d, said %q", code, stderr)
	}
}
