package report

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"quietcross/reports/internal/browser"
	"quietcross/reports/internal/sample"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"quietcross/dsp/wave"
)

const browserRungs = 4

// TestBrowser tries one page in a real browser. The parts share the browser and
// run in order.
func TestBrowser(t *testing.T) {
	browser.Find(t)
	dir, r := write(t, sample.Options{Tones: 1, Programmes: 2, Rungs: browserRungs, Seconds: 2, Rate: 44100})
	ctx := browser.Open(t, dir+"/"+File, recordStarts)
	t.Run("names are inert", func(t *testing.T) { inert(t, ctx) })
	t.Run("traces toggle", func(t *testing.T) { toggles(t, ctx) })
	t.Run("items switch", func(t *testing.T) { items(t, ctx) })
	t.Run("nothing overprints", func(t *testing.T) { overprints(t, ctx) })
	t.Run("tracks start in step", func(t *testing.T) { inStep(t, ctx) })
	t.Run("keys", func(t *testing.T) { keys(t, ctx) })
	t.Run("switching leaves no gap", func(t *testing.T) { noGap(t, ctx, dir) })
	t.Run("sound loads again", func(t *testing.T) { again(t, ctx) })
	t.Run("worst moment", func(t *testing.T) { goesToTheWorst(t, ctx, r) })
	t.Run("strips are aligned", func(t *testing.T) { aligned(t, ctx) })
	t.Run("circuit", func(t *testing.T) { choosesDrawing(t, ctx) })
	t.Run("print", func(t *testing.T) { prints(t, ctx) })
}

func inert(t *testing.T, ctx context.Context) {
	if n := browser.Evaluate[int](t, ctx, `document.querySelectorAll("img").length`); n != 0 {
		t.Errorf("%d img elements", n)
	}
	name := browser.Evaluate[string](t, ctx, `document.querySelectorAll("article")[1].querySelector("h2").textContent`)
	if len(name) < len(sample.Hostile) || name[:len(sample.Hostile)] != sample.Hostile {
		t.Errorf("heading %q does not show the file's name", name)
	}
}

// visible counts the traces of a rung in the current item that are drawn.
const visible = `[...document.querySelectorAll("article.current .trace[data-rung='1']")].filter(e => getComputedStyle(e).display !== "none").length`

func toggles(t *testing.T, ctx context.Context) {
	box := `[data-switch="1"]`
	all := browser.Evaluate[int](t, ctx, `document.querySelectorAll("article.current .trace").length`)
	before := browser.Evaluate[int](t, ctx, visible)
	if before < 8 {
		t.Fatalf("%d traces of rung 1 at first", before)
	}
	browser.Do(t, ctx, chromedp.Click(box))
	if n := browser.Evaluate[int](t, ctx, visible); n != 0 {
		t.Errorf("%d traces of rung 1 after switching it off", n)
	}
	others := browser.Evaluate[int](t, ctx, `[...document.querySelectorAll("article.current .trace")].filter(e => getComputedStyle(e).display !== "none").length`)
	if others != all-before {
		t.Errorf("%d traces are left, want %d", others, all-before)
	}
	browser.Medium(t, ctx, "print")
	if n := browser.Evaluate[int](t, ctx, visible); n != before {
		t.Errorf("%d traces of rung 1 in print, want all %d", n, before)
	}
	browser.Medium(t, ctx, "")
	browser.Do(t, ctx, chromedp.Click(box))
	if n := browser.Evaluate[int](t, ctx, visible); n != before {
		t.Errorf("%d traces of rung 1 after switching it on again", n)
	}
}

func items(t *testing.T, ctx context.Context) {
	shown := `[...document.querySelectorAll("article")].filter(e => getComputedStyle(e).display !== "none").map(e => e.id).join()`
	if got := browser.Evaluate[string](t, ctx, shown); got != "item-0" {
		t.Errorf("at first %q is shown", got)
	}
	browser.Do(t, ctx, chromedp.Click(`.index a[href="#item-2"]`))
	browser.Until(t, ctx, shown+` === "item-2"`)
	browser.Do(t, ctx, chromedp.Click(`.index a[href="#item-0"]`))
	browser.Until(t, ctx, shown+` === "item-0"`)
}

// crowded lists pairs of texts of one figure that meet, and texts that stick out
// of their figure.
const crowded = `(() => {
  const bad = [];
  for (const figure of document.querySelectorAll("main figure svg.plot")) {
    const outer = figure.getBoundingClientRect();
    if (!outer.width) continue;
    const texts = [...figure.querySelectorAll("text")].map(e => [e.textContent, e.getBoundingClientRect()]);
    texts.forEach(([name, a], i) => {
      if (a.left < outer.left - 1 || a.right > outer.right + 1) bad.push(name + " sticks out");
      texts.slice(0, i).forEach(([other, b]) => {
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (wide > 1 && high > 3) bad.push(name + " meets " + other);
      });
    });
  }
  if (document.documentElement.scrollWidth > innerWidth) bad.push("the page is " + document.documentElement.scrollWidth + " px wide");
  return bad;
})()`

func overprints(t *testing.T, ctx context.Context) {
	for _, width := range []int64{400, 1280} {
		for _, item := range []string{"#item-1", "#item-0"} {
			browser.Do(t, ctx, chromedp.EmulateViewport(width, 900), chromedp.Evaluate[chromedp.Void](`location.hash = "`+item+`"`))
			browser.Until(t, ctx, `document.querySelector("article.current").id === "`+item[1:]+`"`)
			for _, complaint := range browser.Evaluate[[]string](t, ctx, crowded) {
				t.Errorf("%d px, %s: %s", width, item, complaint)
			}
			picture(t, ctx, item[1:], width)
		}
	}
}

// picture writes a picture of the whole page into the folder that the
// environment names, to be looked at.
func picture(t *testing.T, ctx context.Context, name string, width int64) {
	folder := os.Getenv("QUIETCROSS_PICTURES")
	if folder == "" {
		return
	}
	data := browser.Run(t, ctx, chromedp.FullScreenshot(100))
	path := filepath.Join(folder, name+map[int64]string{400: "-narrow.png", 1280: "-wide.png"}[width])
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Error(err)
	}
}

// Pressing Play loads the clip once and starts every track at one time from one
// offset; choosing a track changes gains alone.
func inStep(t *testing.T, ctx context.Context) {
	if n := browser.Evaluate[int](t, ctx, `document.scripts.length + performance.getEntriesByType("resource").length`); n != 2 {
		t.Errorf("something was loaded before the first play: %d", n)
	}
	browser.Do(t, ctx, chromedp.Click("#item-0 .play"))
	browser.Until(t, ctx, `players[0].playing`)
	starts := browser.Evaluate[[][2]float64](t, ctx, `starts`)
	if len(starts) != 1+2*browserRungs {
		t.Fatalf("%d sources started, want %d", len(starts), 1+2*browserRungs)
	}
	for _, s := range starts {
		if s != starts[0] {
			t.Errorf("a source starts at %v, the first at %v", s, starts[0])
		}
	}
	browser.Do(t, ctx, chromedp.Click(`#item-0 .track[data-track="3"]`))
	browser.Until(t, ctx, `players[0].graph.gains.every((g, i) => g.gain.value === (i === 3 ? 1 : 0))`)
	browser.Do(t, ctx, chromedp.Click(`#item-0 .true-level`), chromedp.Click(`#item-0 .track[data-track="4"]`))
	// The sample's residuals have 20 dB of make-up.
	browser.Until(t, ctx, `players[0].graph.gains.every((g, i) => Math.abs(g.gain.value - (i === 4 ? 0.1 : 0)) < 1e-6)`)
	if n := browser.Evaluate[int](t, ctx, `starts.length`); n != len(starts) {
		t.Errorf("switching started %d sources anew", n-len(starts))
	}
	pressed := browser.Evaluate[string](t, ctx, `[...document.querySelectorAll("#item-0 .track[aria-pressed=true]")].map(e => e.dataset.track).join()`)
	if pressed != "4" {
		t.Errorf("buttons pressed: %s", pressed)
	}
	if note := browser.Evaluate[string](t, ctx, `players[0].note`); browser.Evaluate[bool](t, ctx, `deviceRate !== 44100`) != (note != "") {
		t.Errorf("note on resampling: %q", note)
	}
}

func keys(t *testing.T, ctx context.Context) {
	browser.Do(t, ctx, chromedp.Focus("#item-0 .timeline"), chromedp.KeyEvent("0"))
	browser.Until(t, ctx, `players[0].track === 0`)
	browser.Do(t, ctx, chromedp.KeyEvent("2"))
	browser.Until(t, ctx, `players[0].track === 3`)
	browser.Do(t, ctx, chromedp.KeyEvent(kb.ArrowDown))
	browser.Until(t, ctx, `players[0].track === 4`)
	browser.Do(t, ctx, chromedp.KeyEvent(kb.ArrowUp))
	browser.Until(t, ctx, `players[0].track === 3`)
	playing := browser.Evaluate[bool](t, ctx, `players[0].playing`)
	browser.Do(t, ctx, chromedp.KeyEvent(" "))
	browser.Until(t, ctx, map[bool]string{true: `!players[0].playing`, false: `players[0].playing`}[playing])
	browser.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`players[0].pause(); players[0].seek(0.5)`), chromedp.KeyEvent("["))
	browser.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`players[0].seek(1.5)`), chromedp.KeyEvent("]"))
	if loop := browser.Evaluate[[2]float64](t, ctx, `players[0].loop`); loop != [2]float64{0.5, 1.5} {
		t.Errorf("loop %v, want 0.5 to 1.5", loop)
	}
	browser.Do(t, ctx, chromedp.KeyEvent("l"))
	browser.Until(t, ctx, `players[0].loop === null`)
	browser.Do(t, ctx, chromedp.KeyEvent(kb.ArrowLeft))
	if at := browser.Evaluate[float64](t, ctx, `players[0].position()`); math.Abs(at-0.5) > 1e-9 {
		t.Errorf("at %g s after a step back from 1.5 s", at)
	}
}

// offline plays the page's own graph into memory, switches from the reference to
// the output of rung 0 at half a second with the page's own crossfade, and
// returns the samples around that.
const offline = `(async () => {
  const rate = players[0].item.rate;
  const context = new OfflineAudioContext(1, rate, rate);
  const levels = players[0].item.tracks.map((_, i) => i === 0 ? 1 : 0);
  const graph = startGraph(context, players[0].buffers, levels, 0, 0, null, context.destination);
  context.suspend(0.5).then(() => {
    fadeTo(graph.gains[0], 0, context.currentTime);
    fadeTo(graph.gains[1], 1, context.currentTime);
    context.resume();
  });
  const played = (await context.startRendering()).getChannelData(0);
  return Array.from(played);
})()`

// What is heard has to be the reference's file until the switch and the
// output's file after it, both sample for sample at their places, and between
// them the straight-line mix of the two: no gap and no jump.
func noGap(t *testing.T, ctx context.Context, dir string) {
	got := browser.Evaluate[[]float64](t, ctx, offline)
	reference, output := file(t, dir, "reference.wav"), file(t, dir, "00.wav")
	const rate = 44100
	// A suspension falls on the next of the blocks of 128 frames in which a
	// browser renders (Web Audio API, render quantum).
	at := (rate/2 + 127) / 128 * 128
	fade := 12*rate/1000 + 128
	const tolerance = 3 * 0.25 / 32760 // of 16 bits and dither
	for i := rate / 10; i < len(got); i++ {
		a, b := reference[i], output[i]
		switch {
		case i < at-128:
			b = a
		case i >= at+fade:
			a = b
		}
		if v := got[i]; v < min(a, b)-tolerance || v > max(a, b)+tolerance {
			t.Fatalf("sample %d is %g, reference %g, output %g", i, v, reference[i], output[i])
		}
	}
}

// file reads a track of the first item.
func file(t *testing.T, dir, name string) []float64 {
	t.Helper()
	_, x, err := wave.ReadFile(filepath.Join(dir, "item-0", "0dB", name))
	if err != nil {
		t.Fatal(err)
	}
	return x[0]
}

// What was unloaded to save memory plays again at the next press.
func again(t *testing.T, ctx context.Context) {
	browser.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`players[0].unload()`))
	if text := browser.Evaluate[string](t, ctx, `document.querySelector("#item-0 .status").textContent`); text != "Press Play to load the sound." {
		t.Errorf("status %q", text)
	}
	before := browser.Evaluate[int](t, ctx, `starts.length`)
	browser.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`players[0].setLoop(null, true)`), chromedp.Click("#item-0 .play"))
	browser.Until(t, ctx, `players[0].playing && recent.join() === "0"`)
	if n := browser.Evaluate[int](t, ctx, `starts.length`) - before; n != 1+2*browserRungs {
		t.Errorf("%d sources started, want %d", n, 1+2*browserRungs)
	}
	browser.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`players[0].setLoop(null, false)`), chromedp.Click("#item-0 .play"))
	browser.Until(t, ctx, `!players[0].playing`)
}

func prints(t *testing.T, ctx context.Context) {
	paper := browser.Run(t, ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPrintBackground()))
	if len(paper) < 20_000 || string(paper[:5]) != "%PDF-" {
		t.Errorf("%d bytes of print", len(paper))
	}
	if folder := os.Getenv("QUIETCROSS_PICTURES"); folder != "" {
		if err := os.WriteFile(filepath.Join(folder, "print.pdf"), paper, 0o644); err != nil {
			t.Error(err)
		}
	}
	browser.Medium(t, ctx, "print")
	hidden := browser.Evaluate[string](t, ctx, `[...document.querySelectorAll(".player, .switches, .index")].filter(e => getComputedStyle(e).display !== "none").map(e => e.className).join()`)
	if hidden != "" {
		t.Errorf("in print there are %s", hidden)
	}
	if n := browser.Evaluate[int](t, ctx, `[...document.querySelectorAll("article")].filter(e => getComputedStyle(e).display !== "none").length`); n != 3 {
		t.Errorf("%d items in print, want 3", n)
	}
}

// recordStarts notes every start of a source, before the page's own script
// runs.
const recordStarts = `
window.starts = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when, offset) {
  window.starts.push([when, offset]);
  return start.apply(this, arguments);
};`
