package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/corpus"
)

// tool returns the path of a program that a test needs; where it is missing the
// test is skipped, or fails under CI.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed, and nothing is skipped under CI", name)
	}
	t.Skipf("%s is not installed (Debian: apt-get install sox espeak-ng)", name)
	return ""
}

// TestForeignFiles renders files that other programs wrote, in each format, and
// lets those programs read the results: sample counts and rates are theirs.
func TestForeignFiles(t *testing.T) {
	sox, soxi, espeak := tool(t, "sox"), tool(t, "soxi"), tool(t, "espeak-ng")
	dir := t.TempDir()
	write := func(program string, args ...string) {
		if output, err := exec.Command(program, args...).CombinedOutput(); err != nil {
			t.Fatalf("%s %q: %v\n%s", program, args, err, output)
		}
	}
	in := func(name string) string { return filepath.Join(dir, name) }
	synth := []string{"synth", "0.7", "pluck", "A3", "gain", "-6"}
	write(sox, append([]string{"-n", "-r", "44100", "-b", "16", in("sixteen.wav")}, synth...)...)
	write(sox, append([]string{"-n", "-r", "48000", "-b", "24", "-c", "2", in("extensible.wav")}, synth...)...)
	write(sox, append([]string{"-n", "-r", "96000", "-e", "float", "-b", "32", in("float.wav")}, synth...)...)
	write(sox, append([]string{"-n", "-r", "8000", "-b", "8", in("eight.wav")}, synth...)...)
	write(espeak, "-w", in("speech.wav"), "quiet crossing")

	out := filepath.Join(dir, "set")
	args := []string{"render", "--out", out, "--bias", "0,1.2V", "--level", "-6"}
	for _, name := range []string{"sixteen", "extensible", "float", "eight", "speech"} {
		args = append(args, in(name+".wav"))
	}
	if code, _, stderr := command(t, args...); code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	m, err := corpus.Read(out)
	if err != nil {
		t.Fatal(err)
	}
	ask := func(what, path string) string {
		output, err := exec.Command(soxi, what, path).Output()
		if err != nil {
			t.Fatalf("soxi %s %s: %v", what, path, err)
		}
		return strings.TrimSpace(string(output))
	}
	for _, item := range m.Items {
		for _, file := range item.Files() {
			path := filepath.Join(out, filepath.FromSlash(file))
			for _, what := range []string{"-s", "-r", "-c", "-D"} {
				if got, want := ask(what, path), ask(what, in(item.Source.Name)); got != want {
					t.Errorf("%s: soxi %s says %s, of the source %s", file, what, got, want)
				}
			}
			write(sox, path, "-n", "stat")
		}
	}
}
