package report

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/reports/internal/sample"

	"quietcross/reports/audibility"
)

func rendered(t *testing.T, r *Report) string {
	t.Helper()
	var b bytes.Buffer
	if err := render(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A worst moment outside of what the player holds is named, but has no button.
func TestWorstMomentOutsideOfTheExcerpt(t *testing.T) {
	_, r := write(t, sample.Options{Tones: 1, Rungs: 2, Seconds: 1, Rate: 48000})
	item := &r.Items[0]
	item.Excerpt = Excerpt{Start: 24000, Frames: 12000} // 0.5 s to 0.75 s
	for at, inside := range map[float64]bool{0.4: false, 0.5: true, 0.7: true, 0.75: false} {
		item.Renderings[0].Detection.When.Worst = at
		w := newWorst(item, &item.Renderings[0])
		if w.Inside != inside || inside && (w.At < at-0.5-1e-9 || w.At > at-0.5+1e-9) {
			t.Errorf("at %g s: %+v", at, w)
		}
	}
	item.Renderings[0].Detection.When.Worst = 0.9
	item.Renderings[1].Detection.When.Worst = 0.6
	text := rendered(t, r)
	if !strings.Contains(text, "worst at 0.9\u00a0s of the WAV") {
		t.Error("a moment outside is not named")
	}
	if n := strings.Count(text, `<button type="button" class="worst"`); n != 1 {
		t.Errorf("%d buttons, want 1", n)
	}
}

// A verdict says at which level it holds, and nothing is ever called inaudible.
func TestVerdictsCarryTheirConditions(t *testing.T) {
	_, r := write(t, sample.Options{Tones: 1, Programmes: 1, Rungs: 2, Seconds: 1, Rate: 48000})
	r.Heard.Playback = 85.5
	d := r.Items[0].Renderings[0].Detection
	d.Probability, d.When = 0.1, audibility.When{Passage: audibility.Nowhere}
	d.Verdict = d.When.Verdict(r.Heard)
	text := rendered(t, r)
	verdicts := regexp.MustCompile(`(?s)<strong class="verdict[^>]*>(.*?)</strong>`).FindAllStringSubmatch(text, -1)
	if len(verdicts) != 4 {
		t.Fatalf("%d verdicts", len(verdicts))
	}
	for _, v := range verdicts {
		if !strings.Contains(v[1], "redicted audible") || !strings.HasSuffix(v[1], "(85.5\u00a0dB\u00a0SPL).") {
			t.Errorf("verdict %q", v[1])
		}
	}
	if strings.HasPrefix(verdicts[0][0], `<strong class="verdict heard`) || !strings.HasPrefix(verdicts[0][1], "Not predicted") {
		t.Errorf("verdict %q", verdicts[0][0])
	}
	if strings.Contains(strings.ToLower(text), "inaudible") {
		t.Error("something is called inaudible")
	}
	if n := strings.Count(text, "the listener of published thresholds. A blind test is the judge."); n != len(r.Items) {
		t.Errorf("the conditions stand there %d times", n)
	}
}

func TestPageSaysWhyDetectionIsOmitted(t *testing.T) {
	_, r := write(t, sample.Options{Programmes: 1, Rungs: 1, Seconds: 1, Rate: 48000})
	item := &r.Items[0]
	item.DetectionOmitted, item.Renderings[0].Detection = beyondTheEar(&corpus.Item{Channels: 3}), nil
	text := rendered(t, r)
	if !strings.Contains(text, "Whether it is heard was not computed: the item has 3 channels") {
		t.Error("no reason")
	}
	for _, class := range []string{"strip", "verdict", "worst", "heard"} {
		if strings.Contains(text, `class="`+class) {
			t.Errorf("predictions of what was not computed: %s", class)
		}
	}
}

// The page shows when each rung is heard, and for each that is, what stands out.
func TestPageShowsWhatStandsOut(t *testing.T) {
	_, r := write(t, sample.Options{Tones: 1, Rungs: 5, Seconds: 1, Rate: 48000})
	r.Items[0].Renderings[4].Detection.Probability = 0.4
	text, heard := rendered(t, r), 0
	for k, rendering := range r.Items[0].Renderings {
		if rendering.Detection.Heard() {
			heard++
		}
		if got := strings.Contains(text, fmt.Sprintf(`id="i0-excess-%d-t"`, k)); got != rendering.Detection.Heard() {
			t.Errorf("rung %d: picture %v, heard %v", k, got, rendering.Detection.Heard())
		}
	}
	if heard == 0 || heard == 5 || strings.Count(text, `id="i0-when-t"`) != 1 {
		t.Errorf("%d heard", heard)
	}
}

// Numbers, the correlation under them and the sentence above are those of the
// report.
func TestTrackingTable(t *testing.T) {
	gm := 0.4
	rendering := func(thd float64, gm *float64, d float64) Rendering {
		r := Rendering{Sine: &Sine{Simple: bias.Simple{THD: thd, Gm: gm}}, Detection: &Detection{DPrime: d}}
		if gm == nil {
			r.Sine.GmRefusal = "distortion: the law bends"
		}
		return r
	}
	item := &Item{
		Renderings:   []Rendering{rendering(0.1, nil, 3), rendering(0.012, &gm, 0.25)},
		Correlations: []Correlation{{Number: "thd", Points: 2, Rho: 0.3}, {Number: "gm", Points: 2, Rho: 0.9}},
	}
	r := &Report{Rungs: []Rung{{Label: "a"}, {Label: "b"}}}
	got := itemTracking(r, item)
	plain := strings.NewReplacer("\u00a0", " ", "\u2212", "-")
	var lines []string
	for _, line := range got.Table.Rows {
		texts := []string{line.Head}
		for _, c := range line.Cells[:5] {
			texts = append(texts, c.Text)
		}
		lines = append(lines, plain.Replace(strings.Join(texts, " | ")))
	}
	want := []string{"a | 3.0 | 10.0 % | 0 % | 0 % | –", "b | 0.25 | 1.20 % | 0 % | 0 % | 0.400", "rank correlation |  | 0.30 | – | – | 0.90"}
	if strings.Join(lines, "\n") != strings.Join(want, "\n") {
		t.Errorf("table\n%s\nwant\n%s", strings.Join(lines, "\n"), strings.Join(want, "\n"))
	}
	if want := "Most closely, Gm follows what is heard over these rungs (rank correlation 0.90), and least, THD (0.30)."; got.Text != want {
		t.Errorf("text %q", got.Text)
	}
	if len(got.Refusals) != 1 || got.Refusals[0] != "No Gm at a: the law bends." {
		t.Errorf("refusals %q", got.Refusals)
	}
}

func TestBriefProbabilities(t *testing.T) {
	for p, want := range map[float64]string{0: "0\u00a0%", 0.002: "< 1\u00a0%", 0.424: "42\u00a0%", 0.507: "51\u00a0%", 0.9999: "> 99\u00a0%"} {
		c := briefly(&Detection{Probability: p})
		if c.Text != want || c.Strong != (p > 0.5) {
			t.Errorf("%g: %+v, want %q", p, c, want)
		}
	}
	if c := briefly(nil); c.Text != "–" || c.Strong {
		t.Errorf("none: %+v", c)
	}
}
