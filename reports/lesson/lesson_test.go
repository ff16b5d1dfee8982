package lesson

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"quietcross/reports/internal/browser"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"quietcross/corpus/render"
	"quietcross/reports/view/caution"
	"quietcross/stage"
)

// write builds a whole lesson of a built-in stage and writes it.
func write(t *testing.T) string {
	t.Helper()
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	spec.Title = "<img src=x>"
	var shares []float64
	o := DefaultOptions(spec)
	o.Solver, o.Progress = render.SolverStatic, func(s float64) { shares = append(shares, s) }
	l, err := Build(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.IsSorted(shares) || shares[len(shares)-1] != 1 {
		t.Errorf("progress %v", shares)
	}
	path := filepath.Join(t.TempDir(), "lesson.html")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Write(file); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestPage writes a page and tries it, in a browser where there is one. The parts
// share the browser and run in order.
func TestPage(t *testing.T) {
	path := write(t)
	t.Run("file", func(t *testing.T) { standsAlone(t, path) })
	t.Run("browser", func(t *testing.T) { inBrowser(t, path) })
}

// maximumPage is the size that a page must stay under, bytes.
const maximumPage = 25_000_000

// standsAlone looks at the file: its size, what it refers to, what it says.
func standsAlone(t *testing.T, path string) {
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes", len(text))
	if len(text) >= maximumPage {
		t.Errorf("%d bytes, want under %d", len(text), maximumPage)
	}
	text = regexp.MustCompile(`"pcm":"[^"]*"`).ReplaceAll(text, nil)
	for _, address := range regexp.MustCompile(`<[a-z]+ [^>]*(?:src|href)="[^"#][^>]*>|<link|@import|https?://[^"\s]*`).FindAllString(string(text), -1) {
		if address != "http://www.w3.org/2000/svg" {
			t.Errorf("refers to %s", address)
		}
	}
	if bytes.Contains(text, []byte("<img")) {
		t.Error("a title was injected as markup")
	}
	for _, want := range []string{caution.Hearing, "blind test", "starves", "arcsin", "NaN"} {
		if bytes.Contains(text, []byte(want)) == (want == "NaN") {
			t.Errorf("%q: found %v", want, want == "NaN")
		}
	}
}

func inBrowser(t *testing.T, path string) {
	ctx := browser.Open(t, path, recordStarts)
	t.Logf("loaded in %.0f ms", browser.Evaluate[float64](t, ctx, `performance.getEntriesByType("navigation")[0].loadEventEnd`))
	t.Run("widths", func(t *testing.T) { widths(t, ctx) })
	t.Run("figures", func(t *testing.T) { figures(t, ctx) })
	t.Run("slider", func(t *testing.T) { slides(t, ctx) })
	t.Run("clicks", func(t *testing.T) { clicks(t, ctx) })
	t.Run("print", func(t *testing.T) { prints(t, ctx) })
}

// widths holds the page to not scroll sideways, from a telephone to a projector.
func widths(t *testing.T, ctx context.Context) {
	for _, width := range []int64{400, 1280} {
		browser.Do(t, ctx, chromedp.EmulateViewport(width, 900))
		if got := browser.Evaluate[int64](t, ctx, `document.documentElement.scrollWidth`); got > width {
			t.Errorf("%d px wide: the page is %d px", width, got)
		}
		small := browser.Evaluate[float64](t, ctx, `Math.min(...[...document.querySelectorAll("section p, section td, section label")].map(e => parseFloat(getComputedStyle(e).fontSize)))`)
		if small < 14 {
			t.Errorf("%d px wide: text of %g px", width, small)
		}
	}
}

// figures holds the moving figures to the model: a tone through the page's own
// sampled law has the distortion that the text beside it states.
func figures(t *testing.T, ctx context.Context) {
	for _, c := range []struct {
		scope int
		level int
	}{{4, 0}, {4, -20}, {5, -20}} {
		text := browser.Evaluate[string](t, ctx, fmt.Sprintf(`scopes[%d].decibels = %d, scopes[%d].draw(), document.querySelectorAll("section.step")[%d].querySelector(".readout").textContent`, c.scope, c.level, c.scope, c.scope))
		if !strings.Contains(text, "harmonics") || strings.Contains(text, "NaN") || strings.Contains(text, "undefined") {
			t.Errorf("readout %q", text)
		}
	}
	ratio := browser.Evaluate[float64](t, ctx, `(() => { const s = scopes[4], h = harmonics({drive: 1, out: Array.from({length: 1201}, (_, i) => { const u = -1 + 2 * i / 1200, x = u * u * u; return Math.sign(x) * Math.max(Math.abs(x) - 0.2, 0); })}, 1, 1); return h[3] / h[1]; })()`)
	// Dead band, d/A = 0.2: b3/b1 = -0.10687354 (describing function; Gelb and Vander
	// Velde, Slotine and Li).
	if math.Abs(ratio-0.10687354) > 2e-4 {
		t.Errorf("third harmonic of a dead band: %g, want 0.10687", ratio)
	}
}

// slides moves the bias by the keyboard while the sound plays.
func slides(t *testing.T, ctx context.Context) {
	browser.Do(t, ctx, chromedp.Click(".slider .play"))
	browser.Until(t, ctx, `playing === ladder && context.state === "running"`)
	starts := browser.Evaluate[[]float64](t, ctx, `starts`)
	if len(starts) < 10 || slices.Min(starts) != slices.Max(starts) {
		t.Errorf("tracks start at %v", starts)
	}
	browser.Do(t, ctx, chromedp.Focus("#bias"))
	before := browser.Evaluate[string](t, ctx, `document.getElementById("bias-text").textContent + ladderScope.readout.textContent`)
	browser.Do(t, ctx, chromedp.KeyEvent(kb.ArrowRight))
	after := browser.Evaluate[string](t, ctx, `document.getElementById("bias-text").textContent + ladderScope.readout.textContent`)
	if before == after || browser.Evaluate[int](t, ctx, `ladder.track`) != browser.Evaluate[int](t, ctx, `Number(bias.value) + 1`) {
		t.Errorf("the slider moved from %q to %q", before, after)
	}
	if row := browser.Evaluate[string](t, ctx, `document.querySelector("tr.current").dataset.rung`); row != browser.Evaluate[string](t, ctx, `bias.value`) {
		t.Errorf("row %s is marked", row)
	}
	browser.Do(t, ctx, chromedp.KeyEvent(" "))
	browser.Until(t, ctx, `playing === null`)
}

// sweepLadder renders the slider's deck offline, moving it at each tenth of a
// second and on the way back two rungs at a time, and returns the maximum step
// from sample to sample of the result and of the tracks themselves, and how far
// the sound is from the chosen track 50 ms after each move.
const sweepLadder = `(async () => {
  const seconds = 4, tracks = soundBlock(scenes.length);
  const offline = new OfflineAudioContext(1, seconds * RATE, RATE);
  const deck = new Deck(offline, tracks, offline.destination);
  const step = (x, from, to) => { let most = 0; for (let i = from + 1; i < to; i++) most = Math.max(most, Math.abs(x[i] - x[i - 1])); return most; };
  deck.track = 1;
  deck.start(0);
  const moves = [];
  let track = 1, way = 1;
  for (let k = 1; k < 36; k++) {
    if (track + way < 1 || track + way >= tracks.length) way = way > 0 ? -2 : 1;
    track += way;
    const at = Math.round(k * RATE / 10 / 128) * 128, chosen = track;
    moves.push([at, chosen]);
    offline.suspend(at / RATE).then(() => { deck.choose(chosen); offline.resume(); });
  }
  const out = (await offline.startRendering()).getChannelData(0);
  const planes = deck.buffers.map(b => b.getChannelData(0));
  let off = 0;
  for (const [at, chosen] of moves) {
    for (let i = at + 0.05 * RATE; i < at + 0.09 * RATE; i++) off = Math.max(off, Math.abs(out[i] - planes[chosen][i]));
  }
  const changed = moves.some(([at, chosen]) => Math.abs(out[at + 4000] - planes[0][at + 4000]) > 1e-5);
  return [step(out, 1, out.length), Math.max(...planes.map(p => step(p, 0, out.length))), off, changed ? 1 : 0];
})()`

// clicks holds the slider to its promise: no sample step above the programme's
// own, and the new sound in full within 50 ms.
func clicks(t *testing.T, ctx context.Context) {
	got := browser.Evaluate[[]float64](t, ctx, sweepLadder)
	t.Logf("maximum step %.6f, of the tracks %.6f; after 50 ms %.2g off", got[0], got[1], got[2])
	if got[0] > got[1] {
		t.Errorf("a sample step of %g, the programme's own are up to %g", got[0], got[1])
	}
	if got[2] > 1e-6 {
		t.Errorf("50 ms after a move the sound is %g off the chosen track", got[2])
	}
	if got[3] != 1 {
		t.Error("the tracks do not differ: nothing was tested")
	}
}

// prints looks at the page as a handout: answers open, controls gone.
func prints(t *testing.T, ctx context.Context) {
	browser.Medium(t, ctx, "print")
	defer browser.Medium(t, ctx, "")
	browser.Evaluate[bool](t, ctx, `dispatchEvent(new Event("beforeprint"))`)
	if n := browser.Evaluate[int](t, ctx, `[...document.querySelectorAll("details p")].filter(e => e.getBoundingClientRect().height < 5).length`); n != 0 {
		t.Errorf("%d paragraphs of answers are hidden", n)
	}
	if n := browser.Evaluate[int](t, ctx, `[...document.querySelectorAll("button, input")].filter(e => e.getBoundingClientRect().height > 0).length`); n != 0 {
		t.Errorf("%d controls are printed", n)
	}
	if n := browser.Evaluate[int](t, ctx, `[...document.querySelectorAll("svg.scope path.out")].length`); n < 14 {
		t.Errorf("%d curves on the handout", n)
	}
}

// TestTrack reads 16-bit samples back to within half a count.
func TestTrack(t *testing.T) {
	x := []float64{0, 0.3, -0.7, 1e-4}
	track := newTrack(x)
	for i, want := range x {
		got := track.Scale * float64(int16(binary.LittleEndian.Uint16(track.PCM[2*i:])))
		if math.Abs(got-want) > 0.51*track.Scale {
			t.Errorf("sample %d: %g, want %g", i, got, want)
		}
	}
	if silent := newTrack(make([]float64, 3)); len(silent.PCM) != 6 || silent.Scale != 0 {
		t.Errorf("silence is %+v", silent)
	}
}

// TestMissing holds the share of a cycle in a dead zone to its closed form.
func TestMissing(t *testing.T) {
	for _, c := range []struct{ width, peak, want float64 }{{1, 1, 1.0 / 3}, {2, 1, 1}, {4, 1, 1}, {0, 1, 0}} {
		if got := missing(c.width, c.peak); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%+v: got %g", c, got)
		}
	}
}

func TestRefusals(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Options){
		"10.1 s":     func(o *Options) { o.Seconds = 10.1 },
		"0.9 s":      func(o *Options) { o.Seconds = 0.9 },
		"0 s":        func(o *Options) { o.Seconds = 0 },
		"110.1 dB":   func(o *Options) { o.Playback = 110.1 },
		"0 dB":       func(o *Options) { o.Playback = 0 },
		"no workers": func(o *Options) { o.Workers = 0 },
	} {
		o := DefaultOptions(spec)
		spoil(&o)
		if _, err := Build(t.Context(), o); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// recordStarts notes when every source starts.
const recordStarts = `
window.starts = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when) {
  window.starts.push(when);
  return start.apply(this, arguments);
};`
