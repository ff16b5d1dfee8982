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
	"quietcross/dsp/hearing"
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

// What the report says of a rung is what the ear models say of its files, heard whole.
func TestDetectionIsThatOfTheFiles(t *testing.T) {
	dir := written(t, sample.Options{Tones: 1, Programmes: 1, Rungs: 3, Seconds: 1, Rate: 48000}, func(string, *corpus.Manifest) {})
	o := report.Options{Heard: hearing.Conditions{Playback: 85, RoomNR: 20, Listener: hearing.Efficiency{DB: -2, Low: -3, High: -1, Trials: 90}}}
	r := build(t, dir, o)
	heard := 0
	for _, item := range r.Items {
		for k, rendering := range item.Renderings {
			want, standard := whole(t, dir, &item, k, o.Heard)
			d := rendering.Detection
			if d == nil {
				t.Fatalf("%s, rung %d: no detection", item.ID, k)
			}
			if d.DPrime != want.DPrime || d.Probability != hearing.Detection(want.DPrime) || d.Strongest != want.Strongest {
				t.Errorf("%s, rung %d: %+v, want %g, %+v", item.ID, k, d, want.DPrime, want.Strongest)
			}
			if !reflect.DeepEqual(d.Standard, audibility.StandardOf(standard)) {
				t.Errorf("%s, rung %d: %+v, want %+v", item.ID, k, d.Standard, standard)
			}
			when := audibility.Locate(&want, audibility.DefaultLimit, audibility.DefaultExcerpt)
			if d.When != when || d.Verdict != when.Verdict(o.Heard) || !strings.Contains(d.Verdict, "85 dB SPL, a room of NR 20, a listener of efficiency -2 dB") {
				t.Errorf("%s, rung %d: %+v, %q", item.ID, k, d.When, d.Verdict)
			}
			if !reflect.DeepEqual(rendering.Picture, &want.Picture) {
				t.Errorf("%s, rung %d: another picture", item.ID, k)
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
		if d.DPrime != 0 || d.Standard.Detection != 0 || d.Standard.Grade != nil && *d.Standard.Grade < 0 {
			t.Errorf("gain %g: d' %g, %+v", gain, d.DPrime, d.Standard)
		}
		if !strings.HasPrefix(d.Verdict, "not predicted audible; for a full-scale sine at 92 dB SPL") {
			t.Errorf("gain %g: verdict %q", gain, d.Verdict)
		}
	}
}

// Files of other rates are converted, block by block as in one piece: the same
// sound is heard alike.
func TestDetectionAtOtherRates(t *testing.T) {
	var heard []float64
	for _, rate := range []int{48000, 44100, 96000} {
		dir := written(t, sample.Options{Tones: 1, Rungs: 1, Seconds: 1, Rate: rate}, func(string, *corpus.Manifest) {})
		item := build(t, dir, report.DefaultOptions()).Items[0]
		got := item.Renderings[0].Detection
		want, standard := whole(t, dir, &item, 0, hearing.DefaultConditions())
		if got.DPrime != want.DPrime || got.Standard.NoiseToMask != standard.TotalNoiseToMask || got.Standard.Detection != standard.Detection {
			t.Errorf("%d Hz: %+v, in one piece %g and %g", rate, got, want.DPrime, standard.TotalNoiseToMask)
		}
		heard = append(heard, got.DPrime)
	}
	// The harmonics to order 19 lie below 20 kHz at every rate. d' goes as their energy.
	if slices.Max(heard)/slices.Min(heard) > 1.03 {
		t.Errorf("d' %v", heard)
	}
}

// whole compares a rung with the reference, both converted in one piece.
func whole(t *testing.T, dir string, item *report.Item, rung int, heard hearing.Conditions) (hearing.Result, bs1387.Result) {
	t.Helper()
	var both [2][][]float64
	for i, file := range []string{item.Reference.File, item.Renderings[rung].File} {
		var err error
		if both[i], err = audibility.ToEarRate(audio(t, dir, file), item.Rate); err != nil {
			t.Fatal(err)
		}
	}
	ear, err := hearing.NewReference(heard.Config(48000, 1), both[0])
	if err != nil {
		t.Fatal(err)
	}
	standard, err := bs1387.NewReference(bs1387.Config{Rate: 48000, Channels: 1, PlaybackSPL: heard.Playback}, both[0])
	if err != nil {
		t.Fatal(err)
	}
	return ear.Compare(both[1]), standard.Compare(both[1])
}

// A whole song is heard; the standard is asked about excerpts only, and what is too
// short for its frames has none of its figures.
func TestTheStandardIsForExcerpts(t *testing.T) {
	for want, o := range map[bool]sample.Options{
		false: {Programmes: 1, Rungs: 1, Seconds: 61, Rate: 8000},
		true:  {Programmes: 1, Rungs: 1, Seconds: 59, Rate: 8000},
	} {
		dir := written(t, o, func(string, *corpus.Manifest) {})
		item := build(t, dir, report.DefaultOptions()).Items[0]
		d := item.Renderings[0].Detection
		if item.DetectionOmitted != "" || d == nil || (d.Standard != nil) != want || len(d.Course.Probability) == 0 || len(d.Course.Probability) > 512 {
			t.Errorf("%g s: %q, %+v", o.Seconds, item.DetectionOmitted, d)
		}
	}
	dir := written(t, sample.Options{Programmes: 1, Rungs: 1, Seconds: 0.03, Rate: 48000}, func(string, *corpus.Manifest) {})
	if d := build(t, dir, report.DefaultOptions()).Items[0].Renderings[0].Detection; d == nil || d.Standard != nil {
		t.Errorf("30 ms: %+v", d)
	}
}

func TestDetectionSaysWhyItIsOmitted(t *testing.T) {
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
	if _, err := report.BuildContext(t.Context(), dir, report.Options{Heard: hearing.Conditions{Playback: 150}}); err == nil || !strings.Contains(err.Error(), "150") {
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
