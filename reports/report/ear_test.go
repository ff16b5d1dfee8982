package report_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"quietcross/reports/internal/sample"

	"quietcross/corpus"
	"quietcross/dsp/bs1387"
	"quietcross/dsp/wave"
	"quietcross/reports/audibility"
	"quietcross/reports/report"
)

// written makes a sample, lets change edit its manifest, and returns its folder.
func written(t *testing.T, o sample.Options, change func(dir string, m *corpus.Manifest)) string {
	t.Helper()
	dir := t.TempDir()
	if err := sample.Write(dir, o); err != nil {
		t.Fatal(err)
	}
	m, err := corpus.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	change(dir, m)
	if err := m.Write(dir); err != nil {
		t.Fatal(err)
	}
	return dir
}

func build(t *testing.T, dir string, o report.Options) *report.Report {
	t.Helper()
	r, err := report.BuildContext(t.Context(), dir, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func audio(t *testing.T, dir, file string) [][]float64 {
	t.Helper()
	_, x, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// scaled writes an item's reference, times gain, over the file of its first rung.
func scaled(t *testing.T, dir string, item *corpus.Item, gain float64) {
	t.Helper()
	x := audio(t, dir, item.Reference.File)
	for i := range x[0] {
		x[0][i] *= gain
	}
	path := filepath.Join(dir, filepath.FromSlash(item.Renderings[0].File))
	w, err := wave.Create(path, wave.Format{Rate: item.Rate, Channels: 1, Encoding: wave.Float, Bits: 32}, wave.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(x); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// What the report says of a rung is what the ear model says of its files.
func TestDetectionIsThatOfTheFiles(t *testing.T) {
	dir := written(t, sample.Options{Tones: 1, Programmes: 1, Rungs: 3, Seconds: 1, Rate: 48000}, func(string, *corpus.Manifest) {})
	r := build(t, dir, report.Options{Playback: 85})
	heard := 0
	for _, item := range r.Items {
		for k, rendering := range item.Renderings {
			ear, err := bs1387.NewComparator(bs1387.Config{Rate: 48000, PlaybackSPL: 85, Channels: 1})
			if err != nil {
				t.Fatal(err)
			}
			ear.Add(audio(t, dir, item.Reference.File), audio(t, dir, rendering.File))
			want := ear.Result()
			d := rendering.Detection
			if d == nil {
				t.Fatalf("%s, rung %d: no detection", item.ID, k)
			}
			if d.Probability != want.Detection || d.NoiseToMask != want.TotalNoiseToMask {
				t.Errorf("%s, rung %d: %g and %g, want %g and %g", item.ID, k, d.Probability, d.NoiseToMask, want.Detection, want.TotalNoiseToMask)
			}
			when := audibility.Locate(&want, audibility.DefaultLimit, audibility.DefaultExcerpt)
			if when.Worst = d.When.Worst; d.When != when || d.Verdict != when.Verdict(85) || !strings.Contains(d.Verdict, "85 dB SPL") {
				t.Errorf("%s, rung %d: %+v, %q", item.ID, k, d.When, d.Verdict)
			}
			if grade, ok := want.Grade(); ok != (d.Grade != nil) || ok && *d.Grade != grade {
				t.Errorf("%s, rung %d: grade %v, want %g, %t", item.ID, k, d.Grade, grade, ok)
			}
			if d.Heard() {
				heard++
			}
		}
	}
	// A dead band of a fifth of a lone tone leaves 13 % of harmonics.
	if !r.Items[0].Renderings[0].Detection.Heard() || heard == 0 {
		t.Error("the deepest dead band is not heard")
	}
}

// A linear rung is the reference, at another gain where levels were left
// unmatched: there is nothing to hear.
func TestLinearRungIsNotDetected(t *testing.T) {
	for _, gain := range []float64{1, 0.5, -0.25} {
		dir := written(t, sample.Options{Programmes: 1, Rungs: 2, Seconds: 1, Rate: 48000}, func(dir string, m *corpus.Manifest) {
			scaled(t, dir, &m.Items[0], gain)
			r := &m.Items[0].Renderings[0]
			r.Gain, r.Applied = gain, 0
		})
		d := build(t, dir, report.DefaultOptions()).Items[0].Renderings[0].Detection
		if d.Probability != 0 || d.When.Passage != audibility.Nowhere || slices.Max(d.Course.Probability) != 0 {
			t.Errorf("gain %g: probability %g, %s", gain, d.Probability, d.When.Passage)
		}
		if d.Grade != nil && *d.Grade < 0 {
			t.Errorf("gain %g: grade %g", gain, *d.Grade)
		}
		if !strings.HasPrefix(d.Verdict, "not predicted audible; with a full-scale sine at 92 dB SPL") {
			t.Errorf("gain %g: verdict %q", gain, d.Verdict)
		}
	}
}

// Files of other rates are converted, block by block as in one piece: the same
// sound gives much the same result.
func TestDetectionAtOtherRates(t *testing.T) {
	var ratios []float64
	for _, rate := range []int{48000, 44100, 96000} {
		dir := written(t, sample.Options{Tones: 1, Rungs: 1, Seconds: 1, Rate: rate}, func(string, *corpus.Manifest) {})
		item := build(t, dir, report.DefaultOptions()).Items[0]
		got := item.Renderings[0].Detection
		want := whole(t, dir, &item)
		if got.NoiseToMask != want.TotalNoiseToMask || got.Probability != want.Detection {
			t.Errorf("%d Hz: %g and %g, in one piece %g and %g", rate, got.NoiseToMask, got.Probability, want.TotalNoiseToMask, want.Detection)
		}
		ratios = append(ratios, float64(got.NoiseToMask))
	}
	// The harmonics to order 19 lie below 20 kHz at every rate.
	if slices.Max(ratios)-slices.Min(ratios) > 0.5 {
		t.Errorf("noise-to-mask ratios %v", ratios)
	}
}

// whole compares the first rung with the reference, both converted in one piece.
func whole(t *testing.T, dir string, item *report.Item) bs1387.Result {
	t.Helper()
	var heard [2][][]float64
	for i, file := range []string{item.Reference.File, item.Renderings[0].File} {
		var err error
		if heard[i], err = audibility.ToEarRate(audio(t, dir, file), item.Rate); err != nil {
			t.Fatal(err)
		}
	}
	reference, err := bs1387.NewReference(bs1387.Config{Rate: 48000, Channels: 1}, heard[0])
	if err != nil {
		t.Fatal(err)
	}
	return reference.Compare(heard[1])
}

func TestDetectionSaysWhyItIsOmitted(t *testing.T) {
	for want, o := range map[string]sample.Options{
		"the item is 61 s long": {Programmes: 1, Rungs: 1, Seconds: 61, Rate: 8000},
		"too short":             {Programmes: 1, Rungs: 1, Seconds: 0.03, Rate: 48000},
	} {
		dir := written(t, o, func(string, *corpus.Manifest) {})
		item := build(t, dir, report.DefaultOptions()).Items[0]
		if !strings.Contains(item.DetectionOmitted, want) || item.Renderings[0].Detection != nil {
			t.Errorf("%q, want %q", item.DetectionOmitted, want)
		}
	}
	// What does not pass has none, and its neighbours have.
	dir := written(t, sample.Options{Programmes: 1, Rungs: 2, Seconds: 0.5, Rate: 48000}, func(_ string, m *corpus.Manifest) {
		m.Items[0].Renderings[0].Gain = 1e-9
	})
	item := build(t, dir, report.DefaultOptions()).Items[0]
	if item.Renderings[0].Detection != nil || item.Renderings[1].Detection == nil || item.DetectionOmitted != "" {
		t.Error("detection of what does not pass")
	}
}

func TestPlaybackIsBounded(t *testing.T) {
	dir := written(t, sample.Options{Tones: 1, Rungs: 1, Seconds: 0.1, Rate: 48000}, func(string, *corpus.Manifest) {})
	if _, err := report.BuildContext(t.Context(), dir, report.Options{Playback: 150}); err == nil || !strings.Contains(err.Error(), "150") {
		t.Errorf("error %v", err)
	}
}

// The report does not depend on how many rungs are measured at a time.
func TestReportIsTheSameOnOneProcessor(t *testing.T) {
	dir := written(t, sample.Options{Tones: 1, Programmes: 1, Rungs: 4, Seconds: 0.5, Rate: 48000}, func(string, *corpus.Manifest) {})
	var texts []string
	for _, processors := range []int{1, 8} {
		before := runtime.GOMAXPROCS(processors)
		text, err := json.Marshal(build(t, dir, report.DefaultOptions()))
		runtime.GOMAXPROCS(before)
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, string(text))
	}
	if texts[0] != texts[1] {
		t.Error("two reports of one set differ")
	}
}

func TestDetectionSurvivesTheFile(t *testing.T) {
	r, dir := built(t), t.TempDir()
	if err := r.Write(dir); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, report.ReportFile))
	if err != nil {
		t.Fatal(err)
	}
	var back report.Report
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	got, want := back.Items[1].Renderings[0], r.Items[1].Renderings[0]
	if !reflect.DeepEqual(got.Detection, want.Detection) || !reflect.DeepEqual(got.Sine, want.Sine) || !reflect.DeepEqual(got.Weighted, want.Weighted) {
		t.Errorf("came back as %+v, %+v, %+v", got.Detection, got.Sine, got.Weighted)
	}
}
