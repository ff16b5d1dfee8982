package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quietcross/dsp/wave"
	"quietcross/stage"
)

// Two commands that print one figure must print the same. The test runs them on every
// built-in stage and on four stage files of its own, and compares their JSON key by key:
// what stands under the same name for the same setting has to be equal to 0.1 %, levels
// to 0.05 dB, and words to the letter.

// ownStages are stages as someone would write them, from the built-in ones.
func ownStages() map[string]func(*stage.Spec) {
	return map[string]func(*stage.Spec){
		"pair-12w-feedback": func(s *stage.Spec) {
			s.Supply.Positive, s.Supply.Negative = 35, 35
			s.Feedback.Gain, s.Feedback.Swing = 5000, 33
			s.Emitter.Ohms = 0.22
		},
		"darlington-30w": func(s *stage.Spec) { s.Emitter.Ohms, s.Load.Ohms = 0.33, 6 },
		"fet-30w":        func(s *stage.Spec) { s.Load.Ohms, s.Thermal.SinkToAir = 4, 0.8 },
		"single-supply-5w": func(s *stage.Spec) {
			s.Supply.Positive, s.Emitter.Ohms = 18, 0.47
		},
	}
}

// agreeing lists what the commands are run on: names, and files written for the test.
func agreeing(t *testing.T) []string {
	t.Helper()
	var list []string
	for _, s := range stage.Builtin() {
		list = append(list, s.Name)
	}
	for name, change := range ownStages() {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		change(&spec)
		spec.Name = "own-" + name
		path := filepath.Join(t.TempDir(), spec.Name+".toml")
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := spec.Write(file); err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
		list = append(list, path)
	}
	slices.Sort(list[len(list)-4:])
	return list
}

// object is decoded JSON.
type object = map[string]any

// jsonOf runs a command and decodes what it prints.
func jsonOf(t *testing.T, args ...string) object {
	t.Helper()
	code, stdout, stderr := command(t, args...)
	if code != exitDone {
		t.Fatalf("%q: exit code %d: %s", args, code, stderr)
	}
	return decode(t, []byte(stdout))
}

func decode(t *testing.T, text []byte) object {
	t.Helper()
	var o object
	if err := json.Unmarshal(text, &o); err != nil {
		t.Fatal(err)
	}
	return o
}

// part returns what is under keys and places, one inside the other.
func part(t *testing.T, o any, path ...any) any {
	t.Helper()
	for _, step := range path {
		switch at := step.(type) {
		case string:
			o = o.(object)[at]
		case int:
			o = o.([]any)[at]
		}
		if o == nil {
			t.Fatalf("nothing at %v of %v", step, path)
		}
	}
	return o
}

// same compares all that two objects have under the same keys, and returns how many
// there were.
func same(t *testing.T, what string, a, b object) int {
	t.Helper()
	n := 0
	for key, x := range a {
		y, ok := b[key]
		if !ok || key == "id" || key == "label" {
			continue
		}
		n++
		switch x := x.(type) {
		case float64:
			y, ok := y.(float64)
			if !ok || !alike(key, x, y) {
				t.Errorf("%s: %s is %v and %v", what, key, x, y)
			}
		case object:
			if y, ok := y.(object); ok {
				n += same(t, what+": "+key, x, y)
			}
		case string, bool:
			if x != y {
				t.Errorf("%s: %s is %v and %v", what, key, x, y)
			}
		}
	}
	return n
}

// alike compares numbers: levels to 0.05 dB, all else to 0.1 %, next to nothing as
// nothing.
func alike(key string, x, y float64) bool {
	if strings.HasSuffix(key, "_db") {
		return math.Abs(x-y) <= 0.05
	}
	return math.Abs(x-y) <= 1e-3*max(math.Abs(x), math.Abs(y), 1e-9)
}

// sineFile writes a 1 kHz sine of full scale and returns its path.
func sineFile(t *testing.T, seconds float64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sine.wav")
	w, err := wave.Create(path, wave.Format{Rate: 48000, Channels: 1, Encoding: wave.Float, Bits: 32}, wave.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, int(seconds*48000))
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * float64(i) / 48)
	}
	if err := w.Write([][]float64{x}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// settings are the flags of the biases that are compared: as built, none, a tenth of the
// optimum, and the optimum or what stands for it. With QUIETCROSS_LONG each stage has all
// four. Otherwise those that a law answers for have, and of those with memory, dearer to
// solve, one in a loop and the push-pull with the resistor. The other push-pulls between
// transformers are that circuit with another trimmed part: each has its own part as built
// and trimmed to the optimum. The rest with memory has no tenth of the optimum, which is as
// much under bias as none.
func settings(t *testing.T, name string) []string {
	t.Helper()
	spec := specOf(t, name)
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	optimum, err := st.Optimum()
	if err != nil {
		t.Fatal(err)
	}
	if optimum == 0 {
		optimum = 10e-3
	}
	every := os.Getenv("QUIETCROSS_LONG") != "" || !st.HasMemory() || name == "push-pull-resistor" || name == "pair-12w-feedback"
	switch {
	case !every && strings.HasPrefix(name, "push-pull-"):
		return []string{"--as-built", "--quiescent", fmt.Sprintf("%.6gA", optimum)}
	case !every:
		return []string{"--as-built", "--bias", "0", "--quiescent", fmt.Sprintf("%.6gA", optimum)}
	}
	return []string{"--as-built", "--bias", "0", "--quiescent", fmt.Sprintf("%.6gA,%.6gA", optimum/10, optimum)}
}

// specOf reads a built-in stage or a stage file.
func specOf(t *testing.T, name string) stage.Spec {
	t.Helper()
	if !strings.HasSuffix(name, ".toml") {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		return spec
	}
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	spec, err := stage.Read(file, name)
	if err != nil {
		t.Fatal(err)
	}
	return spec
}

// TestCommandsAgree compares inspect, sweep, the manifest and the report of a rendered
// set.
func TestCommandsAgree(t *testing.T) {
	sine := sineFile(t, 0.05)
	for _, name := range agreeing(t) {
		t.Run(filepath.Base(name), func(t *testing.T) {
			t.Parallel()
			biases := settings(t, name)
			inspected := jsonOf(t, append(append([]string{"stage", "inspect", "--json"}, biases...), name)...)
			dir := filepath.Join(t.TempDir(), "set")
			line := append([]string{"render", "--stage", name, "--level", "0", "--oversample", "8", "--out", dir}, biases...)
			if code, _, stderr := command(t, append(line, sine)...); code != exitDone {
				t.Fatalf("render: exit code %d: %s", code, stderr)
			}
			manifest, report := setFile(t, dir, "manifest.json"), setFile(t, dir, "report.json")
			// The report's sine has the peak of the rendered reference, not quite that of the file.
			level := 20 * math.Log10(part(t, report, "items", 0, "peak_v").(float64)/part(t, report, "drive_v").(float64))
			swept := jsonOf(t, append([]string{"sweep", "--json", "--level", fmt.Sprint(level), "--frequency", "1kHz", "--stage", name}, biases...)...)
			for k := range part(t, manifest, "rungs").([]any) {
				rung := part(t, manifest, "rungs", k).(object)
				look := part(t, inspected, "rungs", k).(object)
				curve := part(t, swept, "grid", "curves", k).(object)
				least := 15
				for what, other := range map[string]object{
					"inspect": look, "sweep": part(t, curve, "rung").(object), "report": part(t, report, "rungs", k).(object),
				} {
					if n := same(t, fmt.Sprintf("%s, manifest and %s", rung["id"], what), rung, other); n < least {
						t.Errorf("%s: manifest and %s share %d figures, want %d", rung["id"], what, n, least)
					}
				}
				tonesAgree(t, curve, part(t, report, "items", 0, "renderings", k).(object))
				verdictsAgree(t, rung["id"].(string), look, manifest)
			}
			same(t, "manifest and sweep", manifest, part(t, swept, "grid").(object))
		})
	}
}

func setFile(t *testing.T, dir, name string) object {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return decode(t, text)
}

// tonesAgree compares the sweep at full drive with what the report says of a sine of the
// same peak.
func tonesAgree(t *testing.T, curve, rendering object) {
	t.Helper()
	sine, ok := rendering["sine"].(object)
	if !ok {
		return // next to nothing of it passes, and the report says so
	}
	point := part(t, curve, "points", 0).(object)
	tone := part(t, point, "tones", 0).(object)
	if n := same(t, "sweep and report", sine, tone); n < 2 {
		t.Errorf("sweep and report share %d figures of a tone", n)
	}
	same(t, "sweep and report", object{"gm": sine["gm"]}, point)
}

// verdictsAgree looks for what inspect refuses among the set's warnings, and for nothing
// else there.
func verdictsAgree(t *testing.T, id string, look, manifest object) {
	t.Helper()
	refused := ""
	for _, key := range []string{"settled_at_rest", "settled_at_drive"} {
		if text, ok := part(t, look, key).(object)["refusal"].(string); ok && refused == "" {
			refused = id + ": " + text
		}
	}
	warned := ""
	list, _ := manifest["warnings"].([]any)
	for _, w := range list {
		if text := w.(string); strings.HasPrefix(text, id+": ") && strings.Contains(text, "do not run") {
			warned = text
		}
	}
	if refused != warned {
		t.Errorf("inspect says %q, the set %q", refused, warned)
	}
}

// TestQuiescentAgreesWithAll compares the rungs of quiescent with inspect and sweep at
// the same currents, and its thresholds with those of audibility. With QUIETCROSS_LONG
// it does so on every stage; otherwise on one of each way of solving.
func TestQuiescentAgreesWithAll(t *testing.T) {
	names := []string{"pair-1w", "single-supply-5w"}
	if os.Getenv("QUIETCROSS_LONG") != "" {
		names = agreeing(t)
	}
	sine := sineFile(t, 0.4)
	for _, name := range names {
		t.Run(filepath.Base(name), func(t *testing.T) {
			r := jsonOf(t, "quiescent", "--json", "--units", "0", "--file", sine, "--level", "-20", "--tone-level", "0,-20", "--out", filepath.Join(t.TempDir(), "q"), name)
			result := part(t, r, "stages", 0).(object)
			rungs := part(t, result, "rungs").([]any)
			for _, k := range []int{len(rungs) / 3, 2 * len(rungs) / 3} {
				rungAgrees(t, name, rungs[k].(object))
			}
			thresholdsAgree(t, name, sine, result)
		})
	}
}

// rungAgrees holds one rung of quiescent to the other commands.
func rungAgrees(t *testing.T, name string, rung object) {
	t.Helper()
	current := fmt.Sprintf("%.17gA", rung["quiescent_a"])
	if rung["refusal"] != nil {
		code, _, _ := command(t, "stage", "inspect", "--json", "--quiescent", current, name)
		if code == exitDone {
			t.Errorf("%s: quiescent refuses it, inspect does not: %v", current, rung["refusal"])
		}
		return
	}
	look := part(t, jsonOf(t, "stage", "inspect", "--json", "--quiescent", current, name), "rungs", 0).(object)
	if n := same(t, current+": quiescent and inspect at rest", part(t, rung, "rest").(object), part(t, look, "settled_at_rest").(object)); n < 10 {
		t.Errorf("%d figures at rest", n)
	}
	same(t, current+": quiescent and inspect", rung, look)
	swept := jsonOf(t, "sweep", "--json", "--level", "0,-20", "--frequency", "1kHz", "--stage", name, "--quiescent", current)
	for l := range 2 {
		point := part(t, swept, "grid", "curves", 0, "points", l).(object)
		tone := part(t, rung, "tones", l).(object)
		same(t, current+": quiescent and sweep", tone, part(t, point, "tones", 0).(object))
		two := func(kind string) float64 {
			return math.Hypot(point[kind+"_2"].(float64), point[kind+"_3"].(float64))
		}
		same(t, current+": quiescent and sweep", tone, object{"modulation": two("modulation"), "difference": two("difference")})
	}
}

// thresholdsAgree holds the threshold that quiescent found to that of audibility, 3 %.
func thresholdsAgree(t *testing.T, name, file string, result object) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "a")
	code, _, stderr := command(t, "audibility", "--stage", name, "--level", "-20", "--range", "1uA..500mA", "--out", dir, file)
	if code != exitDone {
		t.Fatalf("audibility: exit code %d: %s", code, stderr)
	}
	found := part(t, setFile(t, dir, "audibility.json"), "findings", 0).(object)
	ours := part(t, result, "findings", 0).(object)
	a, heard := found["threshold"].(object)
	b, known := ours["threshold"].(object)
	curve := part(t, ours, "curve").([]any)
	last := curve[len(curve)-1].(object)["quiescent_a"].(float64) // heat ends its search there
	if heard && !known && a["quiescent_a"].(float64) > last {
		return
	}
	if heard != known {
		t.Fatalf("audibility has a threshold: %v, quiescent: %v", heard, known)
	}
	if heard && math.Abs(math.Log(a["quiescent_a"].(float64)/b["quiescent_a"].(float64))) > 0.03 {
		t.Errorf("threshold %v A by audibility, %v A by quiescent", a["quiescent_a"], b["quiescent_a"])
	}
}
