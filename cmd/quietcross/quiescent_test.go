package main

import (
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quietcross/reports/measure"
	"quietcross/reports/quiescent"
)

// quiescentResult runs the command on one stage and returns what it worked out.
func quiescentResult(t *testing.T, args ...string) *quiescent.Result {
	t.Helper()
	out := filepath.Join(t.TempDir(), "q")
	line := append([]string{"quiescent", "--json", "--units", "0", "--out", out}, args...)
	code, stdout, stderr := command(t, line...)
	if code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	pageHolds(t, filepath.Join(out, quiescentPage), cautions["quiescent"])
	var r struct{ Stages []*quiescent.Result }
	if err := json.Unmarshal([]byte(stdout), &r); err != nil {
		t.Fatal(err)
	}
	return r.Stages[0]
}

// TestQuiescentAgrees renders the recommended current with the render command,
// measures the file with the measure command, and predicts it with the audibility
// command: all must give the figures that were promised.
func TestQuiescentAgrees(t *testing.T) {
	tone := toneFile(t, "tone.wav", 0.5, math.Pow(10, -1.0/20), 1)
	written := filepath.Join(t.TempDir(), "chosen.toml")
	r := quiescentResult(t, "--file", tone, "--level", "-20", "--tone-level", "-21", "--write", written, "pair-12w")
	writtenHolds(t, written, r)
	current := fmt.Sprintf("%.17gA", r.Recommendation.Set)
	dir := filepath.Join(t.TempDir(), "set")
	code, _, stderr := command(t, "render", "--quiescent", current, "--level", "-20", "--match", "off", "--format", "float32", "--out", dir, tone)
	if code != exitDone {
		t.Fatalf("render: exit code %d: %s", code, stderr)
	}
	files, err := filepath.Glob(filepath.Join(dir, "tone", "*", "01-*.wav"))
	if err != nil {
		t.Fatal(err)
	}
	files = slices.DeleteFunc(files, func(f string) bool { return strings.Contains(f, "residual") })
	if len(files) != 1 {
		t.Fatalf("rendered %v", files)
	}
	code, stdout, stderr := command(t, "measure", "--json", files[0])
	if code != exitDone {
		t.Fatalf("measure: exit code %d: %s", code, stderr)
	}
	got := figureOf(t, stdout, "thd_f")
	want := r.Chosen.Tones[0].THD // the tone peaks at -1 dBFS, so -20 dB is -21 dB of a full-scale tone
	if !(math.Abs(got-want) < 0.01*want) {
		t.Errorf("THD measured %g, promised %g", got, want)
	}
	code, stdout, stderr = command(t, "stage", "inspect", "--json", "--quiescent", current, "pair-12w")
	if code != exitDone || !strings.Contains(stdout, fmt.Sprintf("%.8g", r.Chosen.Bias)[:8]) {
		t.Errorf("inspect: exit code %d %s, bias %g V not in %s", code, stderr, r.Chosen.Bias, stdout)
	}
	heard, _ := r.Chosen.Worst()
	detection := part(t, setFile(t, dir, "report.json"), "items", 0, "renderings", 0, "detection").(object)
	if got := detection["d_prime"].(float64); math.Abs(got-heard.DPrime) > 0.01*heard.DPrime+1e-3 {
		t.Errorf("d' of the rendered file %g, promised %g", got, heard.DPrime)
	}
}

// writtenHolds inspects the stage that was written, as built: the chosen current within 2 %,
// and settled at rest what the guide says within 3 %.
func writtenHolds(t *testing.T, path string, r *quiescent.Result) {
	t.Helper()
	rung := part(t, jsonOf(t, "stage", "inspect", "--json", "--as-built", path), "rungs", 0).(object)
	if got, want := rung["quiescent_a"].(float64), r.Recommendation.Set; math.Abs(got/want-1) > 0.02 {
		t.Errorf("as built it has %g A, chosen were %g A", got, want)
	}
	warm := part(t, rung, "settled_at_rest", "quiescent_a").(float64)
	if want := r.Guide.Warm / r.Guide.EmitterOhms; math.Abs(warm/want-1) > 0.03 {
		t.Errorf("warm it has %g A, the guide says %g A", warm, want)
	}
	code, _, stderr := command(t, "quiescent", "--write", path, "pair-12w")
	if code != exitUsage || !strings.Contains(stderr, "--force") {
		t.Errorf("a file that is there: exit code %d, said %q", code, stderr)
	}
}

// figureOf picks a figure out of a measurement.
func figureOf(t *testing.T, text, key string) float64 {
	t.Helper()
	var m struct {
		Recordings []struct{ Report *measure.Report }
	}
	if err := json.Unmarshal([]byte(text), &m); err != nil {
		t.Fatal(err)
	}
	for _, f := range m.Recordings[0].Report.Channels[0].Figures {
		if f.Key == key {
			return f.Value
		}
	}
	t.Fatalf("no figure %q in %s", key, text)
	return 0
}

// TestQuiescentUsage holds wrong command lines to exit code 2 and a message that
// says what is legal.
func TestQuiescentUsage(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"quiescent --hottest 20V", "--hottest"},
		{"quiescent --hottest 400C", "legal is -40 C to 100 C"},
		{"quiescent --limit 2", "legal is above 0 and below 1"},
		{"quiescent --tone-level -500", "-120 to 20"},
		{"quiescent --material whale", "quiet-chord"},
		{"quiescent --series 12", "E24 and E96"},
		{"quiescent --write x.toml pair-12w pair-1w", "one stage"},
		{"quiescent --resistor 3", "legal are 0 to 0.5"},
		{"quiescent tube", "pair-12w"},
	} {
		code, _, stderr := command(t, strings.Fields(c.line)...)
		if code != exitUsage || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: exit code %d, said %q", c.line, code, stderr)
		}
	}
}
