package survey

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// write writes audio as a WAV file.
func write(t testing.TB, path string, rate int, audio [][]float64) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	w, err := wave.Create(path, wave.Format{Rate: rate, Channels: len(audio), Encoding: wave.PCM, Bits: 16}, wave.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Write(audio), w.Close()); err != nil {
		t.Fatal(err)
	}
}

// piece is a decaying tone with a little noise, different for each seed.
func piece(rate int, seconds float64, seed uint64) [][]float64 {
	random := rand.New(rand.NewPCG(seed, 11))
	f, gain, decay := 150*math.Pow(8, random.Float64()), 0.5*math.Pow(0.02, random.Float64()), 3*random.Float64()
	x := make([]float64, int(seconds*float64(rate)))
	for i := range x {
		at := float64(i) / float64(rate)
		x[i] = gain * (math.Sin(2*math.Pi*f*at)*math.Exp(-decay*at) + 0.01*random.NormFloat64())
	}
	return [][]float64{x}
}

// tinyLibrary writes count recordings under a second.
func tinyLibrary(t testing.TB, dir string, count int) {
	for i := range count {
		write(t, filepath.Join(dir, fmt.Sprintf("album %d", i/7), fmt.Sprintf("%03d.wav", i)), 8000, piece(8000, 0.5+0.01*float64(i%40), uint64(i)))
	}
}

// cheap hears in place of the search: the threshold follows the level of what it hears,
// so that everything before it is in the result. It takes a moment over it.
type cheap struct {
	pause time.Duration
	heard atomic.Int64
}

func (c *cheap) hear(ctx context.Context, _ int, e heard) (Outcome, error) {
	c.heard.Add(1)
	select {
	case <-ctx.Done():
		return Outcome{}, ctx.Err()
	case <-time.After(c.pause):
	}
	o := Outcome{Kind: e.Kind, Level: e.level, Searched: Span{1e-4, 1}}
	threshold := 0.01 / (level.RMS(e.audio[0])*e.level.Amplitude() + 1e-3)
	o.Heard = &Moment{Quiescent: 0.9 * threshold, First: e.From + 0.1, Detection: 0.7, From: 0, To: 0.4}
	switch {
	case threshold > 1:
		o.Heard.Quiescent = 1
	case threshold < 0.03:
		o.Clean, o.Heard = []Span{{1e-4, 1}}, nil
	default:
		o.Clean, o.Threshold = []Span{{threshold, 1}}, &threshold
	}
	return o, nil
}

func (c *cheap) listen(_ context.Context, _ int, e heard, _ Moment, reference, rendering string) error {
	return errors.Join(os.WriteFile(reference, []byte(e.name), 0o666), os.WriteFile(rendering, []byte(e.name), 0o666))
}

// options survey pair-12w cheaply.
func options(t testing.TB) Options {
	t.Helper()
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	o := DefaultOptions(spec)
	o.hear = &cheap{}
	return o
}

func surveyed(t *testing.T, dir, library string, o Options) *Result {
	t.Helper()
	r, err := Run(t.Context(), dir, []string{library}, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func jsonOf(t *testing.T, r *Result) string {
	t.Helper()
	var b bytes.Buffer
	if err := r.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// same compares two results byte by byte and shows where they part.
func same(t *testing.T, what, got, want string) {
	t.Helper()
	if got == want {
		return
	}
	at := 0
	for at < min(len(got), len(want)) && got[at] == want[at] {
		at++
	}
	from := max(0, at-100)
	t.Errorf("%s: differs at byte %d of %d:\n%s\nwant\n%s", what, at, len(want), got[from:min(at+100, len(got))], want[from:min(at+100, len(want))])
}

// childVariable makes a test binary survey a library and end: "FOLDER LIBRARY PART
// SEARCH", separated by a line break each. SEARCH is "real" or "cheap".
const childVariable = "QUIETCROSS_SURVEY_CHILD"

func TestMain(m *testing.M) {
	if job := os.Getenv(childVariable); job != "" {
		os.Exit(child(strings.Split(job, "\n")))
	}
	os.Exit(m.Run())
}

func child(job []string) int {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		panic(err)
	}
	o := DefaultOptions(spec)
	o.Excerpts = []Kind{KindQuiet}
	if job[3] == "cheap" {
		o.hear = &cheap{pause: 4 * time.Millisecond}
	} else {
		o.Low, o.High = 1e-3, 0.1 // the search itself
	}
	if o.Part, err = ParsePart(job[2], 0, os.Getenv); err != nil {
		panic(err)
	}
	r, err := Run(context.Background(), job[0], []string{job[1]}, o)
	if err == nil {
		var b bytes.Buffer
		err = errors.Join(r.WriteJSON(&b), os.WriteFile(filepath.Join(job[0], "survey.json"), b.Bytes(), 0o666),
			os.WriteFile(filepath.Join(job[0], "resident"), []byte(strconv.Itoa(resident(os.Getpid()))), 0o666))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

func childCommand(t *testing.T, job ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), childVariable+"="+strings.Join(job, "\n"))
	cmd.Stderr = os.Stderr
	return cmd
}

// alone runs a child to its end.
func alone(t *testing.T, job ...string) string {
	t.Helper()
	cmd := childCommand(t, job...)
	if err := cmd.Run(); err != nil {
		t.Error(err)
		return ""
	}
	result, err := os.ReadFile(filepath.Join(job[0], "survey.json"))
	if err != nil {
		t.Error(err)
	}
	t.Logf("%s: part %s took %.1f s of processor time", filepath.Base(job[0]), job[2], (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds())
	return string(result)
}

// outcomesKept counts what a store holds.
func outcomesKept(dir string) int {
	s, _, err := readStore(dir)
	if err != nil {
		return 0
	}
	defer s.Close()
	n := 0
	s.db.QueryRow("SELECT count(*) FROM outcome").Scan(&n)
	return n
}

// interrupted runs a child that is killed at random moments of the work until it ends by
// itself, and returns its result. Each time it is let live until it has kept something.
func interrupted(t *testing.T, kills int, most time.Duration, job ...string) string {
	t.Helper()
	random := rand.New(rand.NewPCG(2, uint64(kills)))
	for n := range kills {
		before := outcomesKept(job[0])
		cmd := childCommand(t, job...)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		ended := make(chan error, 1)
		go func() { ended <- cmd.Wait() }()
		for deadline := time.Now().Add(time.Minute); outcomesKept(job[0]) == before && time.Now().Before(deadline) && len(ended) == 0; {
			time.Sleep(5 * time.Millisecond)
		}
		time.Sleep(time.Duration(random.Int64N(int64(most))))
		select {
		case err := <-ended:
			t.Fatalf("run %d of %d ended before it was killed: %v", n+1, kills, err)
		default:
		}
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		<-ended
		if after := outcomesKept(job[0]); after <= before {
			t.Errorf("run %d: %d outcomes kept, %d before it", n+1, after, before)
		}
	}
	return alone(t, job...)
}

// One run, four merged parts and a run that is killed again and again give equal JSON,
// byte by byte.
func TestInterruptedAndDividedAreEqual(t *testing.T) {
	library := t.TempDir()
	tinyLibrary(t, library, 60)
	equalBytes(t, library, "cheap", 5, 40*time.Millisecond)
}

// samples is where Debian's sonic-pi-samples lie once they are installed: recordings in
// the public domain (CC0).
const samples = "/usr/share/sonic-pi/samples"

// variedLibrary writes count recordings of half a second and less: half of them cut by
// seed out of the installed samples, where there are any, the others generated.
func variedLibrary(t *testing.T, dir string, count int) {
	t.Helper()
	files, err := List([]string{samples}, nil)
	if err != nil {
		t.Logf("%v: all recordings are generated (Debian: sonic-pi-samples)", err)
	}
	tinyLibrary(t, dir, count-count/2)
	random := rand.New(rand.NewPCG(4, 4))
	for i := range count / 2 {
		name := filepath.Join(dir, "more", fmt.Sprintf("%03d.wav", i))
		if len(files) == 0 {
			write(t, name, 11025, piece(11025, 0.45, uint64(1000+i)))
			continue
		}
		f := files[random.IntN(len(files))]
		begin := 0.2 * random.Float64()
		audio, rate, err := f.cut(t.Context(), Excerpt{From: begin, To: begin + 0.45})
		if err != nil { // shorter than a loudness block
			audio, rate = piece(8000, 0.45, uint64(1000+i)), 8000
		}
		for _, x := range audio {
			floats.Scale(0.99*math.Pow(0.1, random.Float64()), x)
		}
		write(t, name, rate, audio)
	}
}

// The bar: 1,000 recordings, generated and of Debian's sonic-pi-samples, varied by seed:
// one run, four merged parts and a run that was killed at 20 random moments give equal
// JSON. Once with something cheap in place of the search (1.5 MB of JSON, equal, in 33 s),
// and once heard by the search itself from 1 to 100 mA, some 0.13 s of processor time a
// recording and run, of which no whole run has been made yet.
func TestThousandRecordings(t *testing.T) {
	if !long() {
		t.Skip("takes some ten minutes; QUIETCROSS_LONG=1 runs it")
	}
	library := t.TempDir()
	variedLibrary(t, library, 1000)
	for search, most := range map[string]time.Duration{"cheap": 400 * time.Millisecond, "real": 2 * time.Second} {
		t.Run(search, func(t *testing.T) { equalBytes(t, library, search, 20, most) })
	}
}

// equalBytes surveys a library in one run, in four parts and with kills, all at once.
func equalBytes(t *testing.T, library, search string, kills int, most time.Duration) {
	dir := t.TempDir()
	var whole string
	var parts []string
	var group sync.WaitGroup
	group.Go(func() { whole = alone(t, filepath.Join(dir, "whole"), library, "1/1", search) })
	for k := range 4 {
		parts = append(parts, filepath.Join(dir, fmt.Sprintf("part %d", k+1)))
		group.Go(func() { alone(t, parts[k], library, fmt.Sprintf("%d/4", k+1), search) })
	}
	killed := interrupted(t, kills, most, filepath.Join(dir, "killed"), library, "1/1", search)
	group.Wait()
	same(t, fmt.Sprintf("killed %d times", kills), killed, whole)
	slices.Reverse(parts)
	t.Logf("%d bytes of JSON", len(whole))
	merged, err := Merge(t.Context(), filepath.Join(dir, "merged"), parts)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "four parts merged", jsonOf(t, merged), whole)
	for _, worst := range merged.Distributions[0].Worst {
		for _, name := range []string{worst.Reference, worst.Rendering} {
			a, errA := os.ReadFile(filepath.Join(dir, "merged", name))
			b, errB := os.ReadFile(filepath.Join(dir, "whole", name))
			if errA != nil || errB != nil || !bytes.Equal(a, b) {
				t.Errorf("%s: %v, %v, or the two differ", name, errA, errB)
			}
		}
	}
}

// A library that grows: the same command hears what is new and nothing else, and the
// result is that of one run over all of it. Workers and place change nothing either.
func TestGrownLibrary(t *testing.T) {
	library, dir := t.TempDir(), t.TempDir()
	tinyLibrary(t, library, 14)
	o := options(t)
	c := &cheap{}
	o.hear = c
	surveyed(t, dir, library, o)
	write(t, filepath.Join(library, "new", "later.wav"), 8000, piece(8000, 1, 99))
	grown := surveyed(t, dir, library, o)
	if got := c.heard.Load(); got != 15 {
		t.Errorf("%d excerpts heard in two runs, want 15", got)
	}
	o.Workers = 1
	same(t, "grown", jsonOf(t, grown), jsonOf(t, surveyed(t, t.TempDir(), library, o)))
	if err := os.Remove(filepath.Join(library, "new", "later.wav")); err != nil {
		t.Fatal(err)
	}
	if n := len(surveyed(t, dir, library, o).Recordings); n != 14 {
		t.Errorf("%d recordings after one was taken away, want 14", n)
	}
}

// A survey goes on under its own options alone.
func TestOtherOptionsAreRefused(t *testing.T) {
	library, dir := t.TempDir(), t.TempDir()
	tinyLibrary(t, library, 2)
	o := options(t)
	surveyed(t, dir, library, o)
	o.Seed, o.Heard.Playback = 5, 80
	_, err := Run(t.Context(), dir, []string{library}, o)
	if !errors.Is(err, ErrTerms) || !strings.Contains(err.Error(), "seed (1, 5)") || !strings.Contains(err.Error(), "listening") || strings.Contains(err.Error(), "volume") {
		t.Errorf("%v, want the seed and the listening named and nothing else", err)
	}
	if _, err := Merge(t.Context(), t.TempDir(), []string{dir, t.TempDir()}); err == nil {
		t.Error("a folder without a survey is merged")
	}
	other := t.TempDir()
	surveyed(t, other, library, o)
	if _, err := Merge(t.Context(), t.TempDir(), []string{dir, other}); !errors.Is(err, ErrTerms) {
		t.Errorf("two surveys are merged: %v", err)
	}
	foreign := t.TempDir()
	touch(t, foreign, "thesis.txt")
	if _, err := Run(t.Context(), foreign, []string{library}, options(t)); err == nil || !strings.Contains(err.Error(), "no survey") {
		t.Errorf("a folder with other files is surveyed into: %v", err)
	}
}

// What no part has finished is told by name.
func TestMergeSaysWhatIsMissing(t *testing.T) {
	library, dir := t.TempDir(), t.TempDir()
	tinyLibrary(t, library, 30)
	var parts []string
	for _, k := range []int{1, 3} {
		o := options(t)
		o.Part = Part{k, 3}
		parts = append(parts, filepath.Join(dir, strconv.Itoa(k)))
		if r := surveyed(t, parts[len(parts)-1], library, o); r.Part != o.Part.String() || len(r.Missing) != 0 {
			t.Errorf("part %q with %d missing", r.Part, len(r.Missing))
		}
	}
	r, err := Merge(t.Context(), filepath.Join(dir, "merged"), parts)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Missing)+len(r.Recordings) != 30 || len(r.Missing) == 0 {
		t.Errorf("%d missing and %d recordings of 30", len(r.Missing), len(r.Recordings))
	}
	for _, name := range r.Missing {
		if !(Part{2, 3}).Takes(name) {
			t.Errorf("%s is missing, and is not of part 2", name)
		}
	}
	if said := strings.Join(r.Warnings, " "); !strings.Contains(said, "2/3") {
		t.Errorf("warnings %q, want the part named", said)
	}
}

// A disk that is full ends the run with what is kept, and the run goes on from there. The
// store is bounded in pages, which SQLite answers as it does a disk without room.
func TestFullDisk(t *testing.T) {
	library, dir := t.TempDir(), t.TempDir()
	tinyLibrary(t, library, 60)
	o := options(t)
	whole := surveyed(t, t.TempDir(), library, o)
	o.Workers = 1
	w := &runner{Options: &o, hearer: o.hear}
	terms, err := o.terms()
	if err != nil {
		t.Fatal(err)
	}
	if w.head, _, err = o.prepare(); err != nil {
		t.Fatal(err)
	}
	if w.store, err = openStore(dir, terms); err != nil {
		t.Fatal(err)
	}
	if err := w.store.head(&w.head); err != nil {
		t.Fatal(err)
	}
	if _, err := w.store.db.Exec("PRAGMA max_page_count=20"); err != nil {
		t.Fatal(err)
	}
	if err := w.listen(t.Context(), dir, []string{library}); !errors.Is(err, ErrFull) {
		t.Fatalf("%v, want %v", err, ErrFull)
	}
	if err := w.store.Close(); err != nil {
		t.Fatal(err)
	}
	if kept := outcomesKept(dir); kept < 5 || kept > 55 {
		t.Errorf("%d outcomes kept of 60", kept)
	}
	same(t, "after a full disk", jsonOf(t, surveyed(t, dir, library, o)), jsonOf(t, whole))
}
