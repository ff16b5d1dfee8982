package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"

	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
)

// verdict is what is predicted to be heard of one rung, in a few words. A verdict
// without text is none.
type verdict struct {
	Text  string
	Heard bool
}

func newVerdict(r *Report, rendering *Rendering) verdict {
	d := rendering.Detection
	if d == nil {
		return verdict{}
	}
	// The second half holds the conditions, which the list has above it.
	text, _, _ := strings.Cut(d.Verdict, "; ")
	return verdict{strings.ToUpper(text[:1]) + text[1:] + " (" + playback(r) + ")", d.Heard()}
}

// playback is the level of a full-scale sine: a sound pressure level takes no
// sign.
func playback(r *Report) string {
	decimals := 0
	if r.Heard.Playback != level.DB(math.Round(float64(r.Heard.Playback))) {
		decimals = 1
	}
	return format.Fixed(float64(r.Heard.Playback), decimals) + "\u00a0dB\u00a0SPL"
}

// verdictNote says under which conditions the verdicts of an item hold, or why
// there are none.
func verdictNote(r *Report, item *Item) string {
	if item.DetectionOmitted != "" {
		return "Whether it is heard was not computed: " + item.DetectionOmitted + "."
	}
	return "What is heard is predicted by a detection model held to published thresholds, for " + r.Heard.String() +
		". A blind test is the judge."
}

// worst is the moment of a rendering at which the difference is heard best.
type worst struct {
	Text string
	// At is its place in the excerpt, s; meaningless unless Inside.
	At     float64
	Inside bool
}

// newWorst finds the worst moment in what the player holds; nil when there is
// none.
func newWorst(item *Item, rendering *Rendering) *worst {
	d := rendering.Detection
	if d == nil {
		return nil
	}
	rate := float64(item.Rate)
	at := d.When.Worst - float64(item.Excerpt.Start)/rate
	return &worst{format.Fixed(d.When.Worst, 1) + "\u00a0s", at, at >= 0 && at < float64(item.Excerpt.Frames)/rate}
}

// Sizes of a spectrogram and of the strip under it, px. The strip has the same
// margin on the left, for its widest label has as many characters, and the
// minimum on the right, where the spectrogram has its colour bar.
const (
	residueWidth, residueHeight = 310, 200
	stripWidth, stripHeight     = residueWidth - 62 + 16, 104
)

// strip draws the probability of noticing over time, to stand under the
// spectrogram of the residual; "" when there is none.
func strip(name string, seconds float64, d *Detection) template.HTML {
	if d == nil || len(d.Course.Probability) == 0 {
		return ""
	}
	t := plot.Trace{Look: plot.Look{Ink: true, Solid: true}}
	t.X, t.Y = d.Course.percent(seconds)
	f := &plot.Figure{
		Name: name, Width: stripWidth, Height: stripHeight,
		Title: "Probability of noticing over time", Desc: "Maximum value " + probability(d.Probability) + ".",
		X:      plot.Axis{Label: "time", Unit: "s", SI: true, Lo: 0, Hi: seconds},
		Y:      plot.Axis{Label: "noticed", Unit: "%", Lo: 0, Hi: 100},
		Rules:  []plot.Rule{{At: 100 * audibility.DefaultLimit}},
		Traces: []plot.Trace{t},
	}
	return template.HTML(f.SVG()) // plot escapes every text
}

// probability writes a probability as a percentage.
func probability(p float64) string {
	switch {
	case p > 0 && p < 0.001:
		return "under 0.1\u00a0%"
	case p < 1 && p > 0.999:
		return "over 99.9\u00a0%"
	}
	return format.Fixed(100*p, 1) + "\u00a0%"
}

// detectionCells are d', probability, band of the strongest difference and moment first
// heard.
func detectionCells(d *Detection) []cell {
	if d == nil {
		return cells("–", "–", "–", "–")
	}
	band, first := "–", "–"
	if p := d.Strongest; p.Frequency > 0 {
		band = format.Quantity(p.Low, "Hz") + " to " + format.Quantity(p.High, "Hz")
	}
	if d.Heard() {
		first = format.Fixed(d.When.First, 1) + "\u00a0s"
	}
	return cells(audibility.Sensitivity(d.DPrime), probability(d.Probability), band, first)
}

// standardCells are detection, noise-to-mask ratio and grade by ITU-R BS.1387.
func standardCells(d *Detection) []cell {
	if d == nil || d.Standard == nil {
		return cells("–", "–", "–")
	}
	grade := "–"
	if d.Standard.Grade != nil {
		grade = format.Fixed(*d.Standard.Grade, 1)
	}
	return cells(probability(d.Standard.Detection), format.DB(d.Standard.NoiseToMask), grade)
}

// detected is the probability of noticing of every rendering, a row an item; nil
// for a single item and where there is none.
func detected(r *Report) *table {
	t, some := &table{Head: []string{"item", "not predicted audible from"}}, false
	for _, rung := range r.Rungs {
		t.Head = append(t.Head, rung.Label)
	}
	for i := range r.Items {
		item := &r.Items[i]
		line := row{Head: heading(item), Cells: []cell{{Text: clearFrom(r, item), Strong: true}}}
		for k := range item.Renderings {
			d := item.Renderings[k].Detection
			some = some || d != nil
			line.Cells = append(line.Cells, briefly(d))
		}
		t.Rows = append(t.Rows, line)
	}
	if !some || len(r.Items) < 2 {
		return nil
	}
	return t
}

// briefly writes a probability in whole percent, strong where the difference is
// predicted to be heard.
func briefly(d *Detection) cell {
	switch {
	case d == nil:
		return cell{Text: "–"}
	case d.Probability > 0.99:
		return cell{Text: "> 99\u00a0%", Strong: true}
	case d.Probability > 0 && d.Probability < 0.01:
		return cell{Text: "< 1\u00a0%"}
	}
	return cell{Text: format.Fixed(100*d.Probability, 0) + "\u00a0%", Strong: d.Heard()}
}

// detectionText says how detection was computed.
func detectionText(r *Report) string {
	return fmt.Sprintf("detection model of version %s, held to published thresholds, on the files of the set, for %s; "+
		"predicted audible where %s; no substitute for a blind test: the panel is the judge",
		hearing.ModelVersion, r.Heard, audibility.LimitWords(audibility.DefaultLimit))
}

// standardText says what the figures of the standard are.
func standardText() string {
	return fmt.Sprintf("basic version, for items of up to %d s, which it is meant for; detection: its maximum filtered probability; "+
		"noise to mask: above %s the added exceeds its mask; grade: 0 imperceptible to %s very annoying, where it is defined. "+
		"Its detection is no masked threshold: it counts what stands 20 dB under what people need beside a tone, and no verdict rests on it",
		standardSeconds, "0\u00a0dB", format.Fixed(-4, 0))
}
