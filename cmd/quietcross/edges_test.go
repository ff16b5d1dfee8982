package main

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/urfave/cli/v2"
)

// Legal ranges of flags, at their ends and beyond.
func TestLegalEnds(t *testing.T) {
	seconds := func(s float64) error { return checkCompared(int64(1000*s), 1000) }
	ratio := func(r float64) error { return checkOversample(int(r)) }
	for _, c := range []struct {
		name          string
		check         func(float64) error
		legal, beyond []float64
	}{
		{"level", checkLevel, []float64{-120, 20}, []float64{-120.1, 20.1}},
		{"drive", checkDrive, []float64{1e-3, 1e3}, []float64{0.99e-3, 1.01e3, 0}},
		{"full scale", checkFullScale, []float64{1e-3, 1e4}, []float64{0.99e-3, 1.01e4, 0}},
		{"frequency", checkFrequency, []float64{1, 20000}, []float64{0.99, 20001}},
		{"oversampling", ratio, []float64{1, 2, 4, 8, 16, 32}, []float64{0, 3, 33, 48, 64, -2}},
		{"seconds compared", seconds, []float64{600}, []float64{601}},
	} {
		for _, v := range c.legal {
			if err := c.check(v); err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
		}
		for _, v := range c.beyond {
			if c.check(v) == nil {
				t.Errorf("%s: %g was taken", c.name, v)
			}
		}
	}
}

// A list has up to a hundred values.
func TestLongLists(t *testing.T) {
	for text, ok := range map[string]bool{"1..2/2": true, "1..2/100": true, "1..2/101": false, "1..2/98,1,2": true} {
		values, err := parseList(text, parseDecibels, false)
		if (err == nil) != ok || ok && text == "1..2/100" && len(values) != 100 {
			t.Errorf("%q: %d values, %v", text, len(values), err)
		}
	}
}

// The search for a threshold reaches from a ten-thousandth of the optimum to ten times it.
func TestAboutOptimum(t *testing.T) {
	if low, high := aboutOptimum(0.1); low != 1e-4 || high != 1 {
		t.Errorf("%g to %g A", low, high)
	}
}

// Usage errors say what is legal.
func TestNotchEdges(t *testing.T) {
	for q, code := range map[string]int{"1.2": exitFailed, "3": exitFailed, "1.19": exitUsage, "3.01": exitUsage, "0": exitUsage, "NaN": exitUsage} {
		got, _, stderr := command(t, "measure", "--notch-q", q, "missing.wav")
		if got != code || code == exitFailed && !strings.Contains(stderr, "missing.wav") {
			t.Errorf("Q of %s: exit code %d: %s", q, got, stderr)
		}
	}
}

// A listener sits at two metres unless told otherwise.
func TestDistance(t *testing.T) {
	for _, f := range audibilityCommand().Flags {
		if d, ok := f.(*cli.Float64Flag); ok && d.Name == "distance" {
			if d.Value != 2 {
				t.Errorf("%g m", d.Value)
			}
			return
		}
	}
	t.Error("no --distance")
}

// The time that is left is told from a twentieth of the work and a second on, ten times a
// second at most.
func TestProgressEdges(t *testing.T) {
	for _, c := range []struct {
		spent time.Duration
		share float64
		want  string
	}{
		{1100 * time.Millisecond, 0.055, "working:   6 %, 19s left"},
		{1100 * time.Millisecond, 0.045, "working:   4 %"},
		{900 * time.Millisecond, 0.055, "working:   6 %"},
		{10 * time.Second, 0.5, "working:  50 %, 10s left"},
	} {
		var b strings.Builder
		p := &progressLine{w: &b, what: "working", start: time.Now().Add(-c.spent)}
		p.report(c.share)
		if got := strings.TrimPrefix(b.String(), "\r\033[K"); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
	for since, drawn := range map[time.Duration]bool{60 * time.Millisecond: false, 110 * time.Millisecond: true} {
		var b strings.Builder
		p := &progressLine{w: &b, start: time.Now(), last: time.Now().Add(-since)}
		if p.report(0.5); (b.Len() > 0) != drawn {
			t.Errorf("after %v: drawn %v", since, b.Len() > 0)
		}
	}
}

// A page of results says so in its first kilobyte.
func TestResultPageEdges(t *testing.T) {
	const title = "<title>Listening panel: result</title>"
	path := filepath.Join(t.TempDir(), "a.html")
	for end, want := range map[int]bool{1024: true, 1025: false} {
		if err := os.WriteFile(path, []byte(strings.Repeat(" ", end-len(title))+title), 0o666); err != nil {
			t.Fatal(err)
		}
		if got := isResultPage(path); got != want {
			t.Errorf("a title up to byte %d: %v", end, got)
		}
	}
}

// Exit codes are those of common practice, and defaults those that are documented: 48 kHz,
// nine tenths of a library.
func TestDocumentedNumbers(t *testing.T) {
	for args, want := range map[string]int{"stage list": 0, "measure missing.wav": 1, "measure --notch-q 9 missing.wav": 2} {
		if got, _, _ := command(t, strings.Fields(args)...); got != want {
			t.Errorf("%s: exit code %d, want %d", args, got, want)
		}
	}
	write := materialCommand().Subcommands[1]
	for name, flags := range map[string][]cli.Flag{"rate of " + write.Name: write.Flags, "rate of sources": sourceFlags(), "share": quiescentCommand().Flags} {
		found := false
		for _, f := range flags {
			switch f := f.(type) {
			case *cli.IntFlag:
				found = found || f.Name == "rate" && f.Value == 48000
			case *cli.Float64Flag:
				found = found || f.Name == "share" && f.Value == 90
			}
		}
		if !found {
			t.Errorf("%s is not as documented", name)
		}
	}
}

// Channels and workers are counted from 1.
func TestCountsBeginAtOne(t *testing.T) {
	silence := toneFile(t, "silence.wav", 0.1, 0, 1)
	for number, want := range map[string]int{"0": exitUsage, "1": exitFailed, "2": exitUsage} {
		if code, _, stderr := command(t, "fit", "--stage", "pair-1w", "--full-scale", "3V", "--channel", number, silence); code != want {
			t.Errorf("channel %s: exit code %d: %s", number, code, stderr)
		}
	}
	for number, legal := range map[string]bool{"-1": false, "0": false, "1": true, "2": true} {
		app := cli.NewApp()
		app.Flags = []cli.Flag{workersFlag("files")}
		app.Action = func(c *cli.Context) error {
			if n, err := parseWorkers(c); (err == nil) != legal || legal && strconv.Itoa(n) != number {
				t.Errorf("%s workers: %d, %v", number, n, err)
			}
			return nil
		}
		if err := app.Run([]string{"quietcross", "--workers", number}); err != nil {
			t.Error(err)
		}
	}
}
