package report_test

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"quietcross/reports/internal/sample"
	"quietcross/stage"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/reports/report"
)

const rungs = 6

// set writes one sample for all tests that only read it.
var set = sync.OnceValues(func() (*report.Report, error) {
	dir, err := os.MkdirTemp("", "reports-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := sample.Write(dir, sample.Options{Tones: 1, Programmes: 1, Rungs: rungs, Seconds: 2, Rate: 48000}); err != nil {
		return nil, err
	}
	return report.Build(dir)
})

func built(t *testing.T) *report.Report {
	t.Helper()
	r, err := set()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The tones of the sample went through an ideal dead band, whose harmonics are
// known in closed form (Gelb and Vander Velde).
func TestHarmonicsOfADeadBand(t *testing.T) {
	for k, rendering := range built(t).Items[0].Renderings {
		r := sample.DeadBand(k)
		h := rendering.Harmonics
		if h == nil || len(h.Orders) != 19 {
			t.Fatalf("rung %d: harmonics %+v", k, h)
		}
		if math.Abs(h.Frequency-sample.ToneHertz) > 1e-3 {
			t.Errorf("rung %d: fundamental at %g Hz", k, h.Frequency)
		}
		sum := 0.0
		for _, o := range h.Orders {
			if o.Order%2 == 0 {
				if o.Level > -130 {
					t.Errorf("rung %d: order %d at %.1f dB, want none", k, o.Order, float64(o.Level))
				}
				continue
			}
			want := sample.Harmonic(r, o.Order) / sample.Harmonic(r, 1)
			sum += want * want
			if got := o.Level.Amplitude(); math.Abs(got-math.Abs(want)) > 1e-6 {
				t.Errorf("rung %d: order %d is %.7f of the fundamental, want %.7f", k, o.Order, got, math.Abs(want))
			}
		}
		if want := math.Sqrt(sum); math.Abs(h.THD-want) > 1e-6 {
			t.Errorf("rung %d: THD %.7f, want %.7f", k, h.THD, want)
		}
	}
}

// Without make-up, matching and gain the residual of a tone is what its
// harmonics sum to: both in the manifest's level and in the third octaves.
func TestResidualBandsSumToItsLevel(t *testing.T) {
	r := built(t)
	for i := range r.Items {
		item := &r.Items[i]
		whole := sum(item.Levels)
		for k, rendering := range item.Renderings {
			got := float64(level.FromPower(sum(rendering.Levels) / whole))
			// A band's edge may cut through a line's main lobe, and the
			// averages of a decaying chord weigh its ends differently.
			if math.Abs(got-float64(rendering.Residual.Level)) > 0.2 {
				t.Errorf("%s, rung %d: bands sum to %.2f dB, the manifest has %.2f", item.ID, k, got, float64(rendering.Residual.Level))
			}
		}
	}
}

func sum(levels []level.DB) float64 {
	total := 0.0
	for _, l := range levels {
		total += l.Power()
	}
	return total
}

// The programme's residual is one line at 3 kHz: it has to stand in the row of
// the spectrogram that spans 3 kHz, in every column.
func TestSpectrogramShowsALineAtItsFrequency(t *testing.T) {
	for k, rendering := range built(t).Items[1].Renderings {
		s := rendering.Residue
		if s == nil || s.Cols < 64 || len(s.Level) != s.Rows*s.Cols {
			t.Fatalf("rung %d: spectrogram %+v", k, s)
		}
		for col := range s.Cols {
			best := 0
			for row := range s.Rows {
				if s.Level[row*s.Cols+col] > s.Level[best*s.Cols+col] {
					best = row
				}
			}
			if lo, hi := s.Edges(best); lo > sample.ResidueHertz || hi < sample.ResidueHertz {
				t.Fatalf("rung %d, column %d: the strongest row spans %.0f to %.0f Hz", k, col, lo, hi)
			}
		}
		// Its level at the start: 0.01 r over the gain of 0.97, decaying.
		want := float64(level.FromAmplitude(0.01 * sample.DeadBand(k) / 0.97))
		if got := strongest(s, 0); math.Abs(got-want) > 1 {
			t.Errorf("rung %d: %.1f dB at the start, want %.1f", k, got, want)
		}
	}
}

func strongest(s *report.Spectrogram, col int) float64 {
	best := math.Inf(-1)
	for row := range s.Rows {
		best = max(best, float64(s.Level[row*s.Cols+col]))
	}
	return best
}

// In the waveform at the crossing of a tone, in and out have to be the sine and
// what the dead band's series makes of it, sample for sample.
func TestCrossingOfATone(t *testing.T) {
	item := built(t).Items[0]
	c := item.Crossing
	if c == nil || len(c.Out) != rungs {
		t.Fatal("no crossing")
	}
	const amplitude = 0.25 * sample.Drive
	if at := c.Time * sample.ToneHertz; math.Abs(at-math.Round(at)) > sample.ToneHertz/48000 {
		t.Errorf("the crossing at %g s is no upward one", c.Time)
	}
	for i, in := range c.In {
		when := c.Time + float64(i-c.Before)*c.Step
		phase := 2 * math.Pi * sample.ToneHertz * when
		if want := amplitude * math.Sin(phase); math.Abs(in-want) > 1e-4*amplitude {
			t.Fatalf("in at %g s: %g, want %g", when, in, want)
		}
		for k, out := range c.Out {
			want := 0.0
			for n := 1; n <= 19; n += 2 {
				want += amplitude * sample.Harmonic(sample.DeadBand(k), n) / sample.Harmonic(sample.DeadBand(k), 1) * math.Sin(float64(n)*phase)
			}
			if math.Abs(out[i]-want) > 1e-4*amplitude {
				t.Fatalf("rung %d at %g s: %g, want %g", k, when, out[i], want)
			}
		}
	}
}

func TestSpectrumKeepsEveryHarmonic(t *testing.T) {
	s := built(t).Items[0].Renderings[0].Spectrum
	for n := 1; n <= 19; n += 2 {
		want := float64(level.FromAmplitude(0.25 * math.Abs(sample.Harmonic(0.2, n)/sample.Harmonic(0.2, 1))))
		found := math.Inf(-1)
		for i, f := range s.Frequency {
			if math.Abs(f-float64(n)*sample.ToneHertz) < 2 {
				found = max(found, float64(s.Level[i]))
			}
		}
		// A line between two of the transform reads up to 0.8 dB low through
		// this window.
		if found > want+0.01 || found < want-0.9 {
			t.Errorf("order %d: %.2f dB, want %.2f", n, found, want)
		}
	}
}

func TestConditions(t *testing.T) {
	want := []stage.Condition{
		stage.Unbiased, stage.Under, stage.Under, stage.Under, stage.AtOptimum, stage.Over,
	}
	for i, rung := range built(t).Rungs {
		if rung.Condition != want[i] {
			t.Errorf("rung %d is %s, want %s", i, rung.Condition, want[i])
		}
	}
}

// Findings are read by people: the numbers in them have to be the measured
// ones.
func TestFindings(t *testing.T) {
	r := built(t)
	plain := strings.NewReplacer("\u00a0", " ", "\u2212", "-")
	got := plain.Replace(r.Items[0].Renderings[0].Finding)
	// The table of the dead band at 0.2 gives 12.84 % for all orders, 17.83 dB below.
	want := "Without bias the devices rest at 10.0 fA and leave a crossover region 400 mV wide; " +
		"what it adds lies 17.8 dB below the tone (THD 12.8 %)."
	if got != want {
		t.Errorf("finding\n%q\nwant\n%q", got, want)
	}
	last := plain.Replace(r.Items[1].Renderings[rungs-1].Finding)
	for _, part := range []string{"Over-biased: a resting current of 243 mA", "below the programme", "the minimum of this ladder"} {
		if !strings.Contains(last, part) {
			t.Errorf("finding %q lacks %q", last, part)
		}
	}
}

func TestCurves(t *testing.T) {
	r := built(t)
	for _, rung := range r.Rungs {
		c := rung.Curve
		if c == nil {
			t.Fatalf("%s: no curve; warnings %q", rung.ID, r.Warnings)
		}
		middle := len(c.In) / 2
		if c.In[middle] != 0 || len(c.In) != len(c.Out) || len(c.In) != len(c.Gain) {
			t.Errorf("%s: curve of %d, %d, %d points around %g V", rung.ID, len(c.In), len(c.Out), len(c.Gain), c.In[middle])
		}
		// The gain column has to be the slope of the curve.
		for i := 1; i < len(c.In)-1; i++ {
			slope := (c.Out[i+1] - c.Out[i-1]) / (c.In[i+1] - c.In[i-1])
			if math.Abs(slope-c.Gain[i]) > 0.02 {
				t.Fatalf("%s: gain %g at %g V, slope %g", rung.ID, c.Gain[i], c.In[i], slope)
			}
		}
	}
}

func TestBuildRefusesWhatTheManifestDoesNotSay(t *testing.T) {
	dir := t.TempDir()
	if err := sample.Write(dir, sample.Options{Tones: 1, Rungs: 1, Seconds: 0.1, Rate: 48000}); err != nil {
		t.Fatal(err)
	}
	m, err := corpus.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	m.Items[0].Frames++
	if err := m.Write(dir); err != nil {
		t.Fatal(err)
	}
	_, err = report.Build(dir)
	if err == nil || !strings.Contains(err.Error(), "reference.wav") || !strings.Contains(err.Error(), "4800 frames") {
		t.Errorf("error %v", err)
	}
	if err := os.Remove(filepath.Join(dir, corpus.StageFile)); err != nil {
		t.Fatal(err)
	}
	if _, err := report.Build(dir); err == nil || !strings.Contains(err.Error(), corpus.StageFile) {
		t.Errorf("error %v", err)
	}
}

func TestBuildStopsWhenTold(t *testing.T) {
	dir := t.TempDir()
	if err := sample.Write(dir, sample.Options{Tones: 1, Rungs: 1, Seconds: 0.1, Rate: 48000}); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := report.BuildContext(ctx, dir, report.DefaultOptions()); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

// Silence and items too short for a spectrum are no errors.
func TestBuildOfTheShortAndTheSilent(t *testing.T) {
	dir := t.TempDir()
	if err := sample.Write(dir, sample.Options{Tones: 1, Programmes: 1, Rungs: 2, Seconds: 0.004, Rate: 48000}); err != nil {
		t.Fatal(err)
	}
	r, err := report.Build(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Write(dir); err != nil {
		t.Fatal(err)
	}
	if r.Items[0].Renderings[0].Harmonics != nil || r.Items[1].Renderings[0].Residue != nil {
		t.Error("figures of next to nothing")
	}
}
