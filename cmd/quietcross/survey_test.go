package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"quietcross/dsp/wave"
)

// shortLibrary writes count pieces of half a second.
func shortLibrary(t *testing.T, count int) string {
	t.Helper()
	dir := t.TempDir()
	for i := range count {
		audio := [][]float64{make([]float64, 4000)}
		for n := range audio[0] {
			audio[0][n] = 0.2 / float64(i+1) * float64((n*(3+i)*11)%2001-1000) / 1000
		}
		path := filepath.Join(dir, fmt.Sprintf("%02d.wav", i))
		if err := writeOne(path, audio, wave.Format{Encoding: wave.PCM, Bits: 16}, 8000, 1); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// The command from library to page, in two parts that are merged, and again in a folder
// that holds it already.
func TestSurvey(t *testing.T) {
	library, dir := shortLibrary(t, 3), t.TempDir()
	out := func(name string) string { return filepath.Join(dir, name) }
	survey := func(args ...string) string {
		t.Helper()
		code, stdout, stderr := command(t, append([]string{"survey"}, args...)...)
		if code != exitDone {
			t.Fatalf("%v: exit code %d: %s", args, code, stderr)
		}
		holdsCautions(t, "survey", stderr, cautions["survey"])
		return stdout
	}
	table := survey("--out", out("whole"), library)
	if !strings.Contains(table, "3 recordings clean") || !strings.Contains(table, "Open ") {
		t.Errorf("printed %q", table)
	}
	pageHolds(t, out("whole/"+surveyPage), cautions["survey"])
	if again := survey("--out", out("whole"), library); again != table {
		t.Errorf("again it prints %q", again)
	}
	survey("--out", out("one"), "--part", "1/2", library)
	survey("--out", out("two"), "--part", "2/2", library)
	survey("merge", "--out", out("merged"), out("one"), out("two"))
	pageHolds(t, out("merged/"+surveyPage), cautions["survey merge"])
	sameFile(t, out("merged/"+surveyJSON), out("whole/"+surveyJSON))
	sameFile(t, out("merged/"+surveyCSV), out("whole/"+surveyCSV))
	sameFile(t, out("merged/"+surveyPage), out("whole/"+surveyPage))
	if code, _, stderr := command(t, "survey", "merge", "--out", out("merged"), out("one")); code != exitUsage || !strings.Contains(stderr, "--force") {
		t.Errorf("a merged result is written over: exit code %d, %s", code, stderr)
	}
}

func sameFile(t *testing.T, got, want string) {
	t.Helper()
	a, errA := os.ReadFile(got)
	b, errB := os.ReadFile(want)
	if errA != nil || errB != nil || !bytes.Equal(a, b) {
		t.Errorf("%s differs from %s (%v, %v)", got, want, errA, errB)
	}
}

// Command lines that make no sense are refused before anything is read.
func TestSurveyUsage(t *testing.T) {
	library := shortLibrary(t, 1)
	out := filepath.Join(t.TempDir(), "out")
	for _, c := range []struct {
		args []string
		said string
	}{
		{nil, "no library"},
		{[]string{"--excerpts", "quiet,noisy", library}, `"noisy"`},
		{[]string{"--length", "1s", library}, "legal are 3 to 60 s"},
		{[]string{"--volume", "eleven", library}, "turned-up"},
		{[]string{"--part", "3/2", library}, "K from 1 to N"},
		{[]string{"--parts", "2", library}, "--part auto"},
		{[]string{"--range", "1mA", library}, "FROM..TO"},
		{[]string{"--stage", "pair-12w", "--stage", "pair-12w", library}, "two stages"},
		{[]string{"--playback", "300", library}, "--playback"},
		{[]string{"merge"}, "no parts"},
	} {
		code, _, stderr := command(t, append([]string{"survey"}, c.args...)...)
		if code != exitUsage || !strings.Contains(stderr, c.said) {
			t.Errorf("%v: exit code %d, %q, want %q in it", c.args, code, stderr, c.said)
		}
	}
	if code, _, stderr := command(t, "survey", "--out", out, filepath.Join(library, "nowhere")); code != exitFailed || !strings.Contains(stderr, "nowhere") {
		t.Errorf("a library that is not there: exit code %d, %q", code, stderr)
	}
}

// jobScript is the one of corpus/LIBRARY.md.
func jobScript(t *testing.T) string {
	t.Helper()
	page, err := os.ReadFile(filepath.Join("..", "..", "corpus", "LIBRARY.md"))
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile("(?s)```sh\n(.*?)```").FindSubmatch(page)
	if found == nil {
		t.Fatal("corpus/LIBRARY.md has no job script")
	}
	return string(found[1])
}

// TestSurveyInAnArrayJob submits the documented script to the Slurm controller of this
// machine, where there is one, requeues one of its four tasks once it has kept something,
// and holds the merged parts to one run.
func TestSurveyInAnArrayJob(t *testing.T) {
	if output, err := exec.Command("scontrol", "ping").CombinedOutput(); err != nil || !bytes.Contains(output, []byte("UP")) {
		t.Skip("no Slurm controller answers here (Debian: slurm-wlm, munge; see corpus/LIBRARY.md)")
	}
	library, dir := shortLibrary(t, 40), t.TempDir()
	if output, err := exec.Command("go", "build", "-o", filepath.Join(dir, "quietcross"), ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, output)
	}
	if err := os.WriteFile(filepath.Join(dir, "survey.sh"), []byte(jobScript(t)), 0o666); err != nil {
		t.Fatal(err)
	}
	slurm := func(name string, args ...string) string {
		t.Helper()
		cmd := exec.Command(name, args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "LIBRARY="+library, "PATH="+dir+string(os.PathListSeparator)+os.Getenv("PATH"))
		output, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s %v: %v\n%s", name, args, err, output)
		}
		return strings.TrimSpace(string(output))
	}
	job := slurm("sbatch", "--parsable", "survey.sh")
	t.Cleanup(func() { exec.Command("scancel", job).Run() })
	until := func(what string, holds func() bool) {
		t.Helper()
		for end := time.Now().Add(10 * time.Minute); !holds(); time.Sleep(100 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("%s does not come true: %s", what, slurm("squeue", "--array"))
			}
		}
	}
	until("the first task at work", func() bool {
		info, err := os.Stat(filepath.Join(dir, "part-0", "survey.sqlite-wal"))
		return err == nil && info.Size() > 100_000
	})
	t.Log(slurm("scontrol", "requeue", job+"_0"))
	until("the end of the job", func() bool { return slurm("squeue", "--noheader", "--jobs", job) == "" })
	command(t, "survey", "merge", "--out", filepath.Join(dir, "merged"), filepath.Join(dir, "part-0"), filepath.Join(dir, "part-1"), filepath.Join(dir, "part-2"), filepath.Join(dir, "part-3"))
	if code, _, stderr := command(t, "survey", "--excerpts", "quiet", "--out", filepath.Join(dir, "whole"), library); code != exitDone {
		t.Fatal(stderr)
	}
	sameFile(t, filepath.Join(dir, "merged", surveyJSON), filepath.Join(dir, "whole", surveyJSON))
	for k := range 4 {
		log, _ := os.ReadFile(filepath.Join(dir, fmt.Sprintf("survey-%d.log", k)))
		t.Logf("survey-%d.log:\n%s", k, log)
	}
}
