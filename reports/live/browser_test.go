package live_test

import (
	"context"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"quietcross/corpus/render"
	"quietcross/reports/internal/browser"
	"quietcross/reports/internal/compiled"
	"quietcross/reports/live"
	"quietcross/stage"
)

// write writes a page with a fresh engine into a temporary folder.
func write(t *testing.T, name string) string {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "live.html")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if err := live.Write(file, live.Options{Stage: spec, Engine: compiled.Files(t)}); err != nil {
		t.Fatal(err)
	}
	return path
}

// maximumPage is the size that a page may have, bytes.
const maximumPage = 4_000_000

// quiet waits until nothing is being prepared or solved.
const quiet = `document.body.dataset.ready === "yes" && state.loaded && !state.busy && solution && solution.rung`

// TestBrowser tries one page in a real browser. The parts share the browser and run in
// order.
func TestBrowser(t *testing.T) {
	browser.Find(t)
	path := write(t, "pair-12w")
	if info, err := os.Stat(path); err != nil || info.Size() > maximumPage {
		t.Errorf("%v: the page has %d bytes", err, info.Size())
	} else {
		t.Logf("the page has %d bytes", info.Size())
	}
	source, output := rendered(t, 2, "pair-12w", stage.Bias(1.1), -6, render.SolverStatic)
	ctx := browser.Open(t, path, oscillator)
	browser.Until(t, ctx, quiet)
	browser.Until(t, ctx, `document.body.dataset.playable`)
	t.Logf("ready %.0f ms after opening, to play %.0f ms", browser.Evaluate[float64](t, ctx, `Number(document.body.dataset.after)`), browser.Evaluate[float64](t, ctx, `Number(document.body.dataset.playable)`))
	t.Run("starts silent", func(t *testing.T) { startsSilent(t, ctx) })
	t.Run("keys", func(t *testing.T) { keys(t, ctx) })
	t.Run("plays while the bias moves", func(t *testing.T) { moves(t, ctx) })
	t.Run("looks", func(t *testing.T) { looks(t, ctx) })
	t.Run("figures are kept", func(t *testing.T) { keepsFigures(t, ctx) })
	t.Run("refuses a stage", func(t *testing.T) { refuses(t, ctx) })
	t.Run("every stage", func(t *testing.T) { everyStage(t, ctx) })
	t.Run("follows in time", func(t *testing.T) { followsInTime(t, ctx) })
	t.Run("is like the command in time", func(t *testing.T) { likeCommandInTime(t, ctx) })
	t.Run("is like the command", func(t *testing.T) { likeCommand(t, ctx, source, output) })
	t.Run("hears", func(t *testing.T) { hears(t, ctx) })
	if os.Getenv("QUIETCROSS_LONG") != "" { // a figure to read, held to nothing
		t.Run("speed", func(t *testing.T) { speed(t, ctx) })
	}
}

// startsSilent: nothing sounds before a press, and the volume is off even then.
func startsSilent(t *testing.T, ctx context.Context) {
	if !browser.Evaluate[bool](t, ctx, `state.paused && deck.context === null && deck.volume === 0 && byId("volume").value === byId("volume").min`) {
		t.Error("the page is not silent at first")
	}
	// The stage to begin with has no memory, which a style sheet must not show over.
	if shown := browser.Evaluate[string](t, ctx, `[...document.querySelectorAll("[hidden]")].filter(e => e.getClientRects().length > 0).map(e => e.id).join(" ")`); shown != "" {
		t.Errorf("what is hidden is shown: %s", shown)
	}
}

// keys drives the page by keyboard alone.
func keys(t *testing.T, ctx context.Context) {
	browser.Do(t, ctx, chromedp.KeyEvent("3"))
	browser.Until(t, ctx, `radio("monitor") === "residual"`)
	browser.Do(t, ctx, chromedp.KeyEvent("2"))
	browser.Until(t, ctx, `radio("monitor") === "output"`)
	browser.Do(t, ctx, chromedp.KeyEvent("b"))
	browser.Until(t, ctx, `document.activeElement === byId("bias")`)
	before := browser.Evaluate[float64](t, ctx, `state.value`)
	browser.Do(t, ctx, chromedp.KeyEvent(kb.ArrowLeft), chromedp.KeyEvent(kb.ArrowLeft))
	browser.Until(t, ctx, fmt.Sprintf(`state.value < %g && !changing && solution.quiescent < %g`, before, before))
	browser.Do(t, ctx, chromedp.KeyEvent(" "))
	browser.Until(t, ctx, `!state.paused && view && view.position > 0.5`)
	if said := browser.Evaluate[string](t, ctx, `byId("status").textContent`); !strings.Contains(said, "volume off") {
		t.Errorf("it says %q with the volume off", said)
	}
}

// sweep moves the bias slider up and down for some seconds as a hand does, every 40 ms,
// and tells how long after each move that was followed its sound was played, ms.
const sweep = `(async seconds => {
  const slider = byId("bias"), began = performance.now(), late = [];
  const original = deck.node.port.onmessage;
  deck.node.port.onmessage = event => {
    if (event.data.late) late.push(event.data.late);
    original(event);
  };
  while (performance.now() - began < 1000 * seconds) {
    slider.value = Math.round(500 + 480 * Math.sin(2 * (performance.now() - began) / 1000));
    slider.dispatchEvent(new Event("input"));
    await new Promise(done => setTimeout(done, 40));
  }
  deck.node.port.onmessage = original;
  return {late, ahead: 1000 * player.ahead / deck.rate, missed: deck.missed, position: view.position};
})`

type swept struct {
	Late     []float64 `json:"late"` // ms
	Ahead    float64   `json:"ahead"`
	Missed   int       `json:"missed"`
	Position float64   `json:"position"`
}

// moves plays while the bias moves: two seconds, or a minute with QUIETCROSS_LONG.
func moves(t *testing.T, ctx context.Context) {
	seconds := 2
	if os.Getenv("QUIETCROSS_LONG") != "" {
		seconds = 60
	}
	browser.Until(t, ctx, `byId("verdict").textContent.includes("of trials")`)
	t.Logf("it says %q", browser.Evaluate[string](t, ctx, `byId("verdict").textContent`))
	before := browser.Evaluate[int](t, ctx, `deck.missed`)
	s := browser.Evaluate[swept](t, ctx, fmt.Sprintf("%s(%d)", sweep, seconds))
	if said := browser.Evaluate[string](t, ctx, `byId("verdict").textContent`); strings.Contains(said, "of trials") {
		t.Errorf("it says %q of a bias that has moved", said)
	}
	if len(s.Late) < 2 {
		t.Fatalf("%d moves were followed in %d s", len(s.Late), seconds)
	}
	slices.Sort(s.Late)
	part := func(p float64) float64 { return s.Late[int(p*float64(len(s.Late)-1))] }
	at, _ := slices.BinarySearch(s.Late, 100)
	t.Logf("%d s: %d moves followed, heard after %.0f ms in the median, 99 %% within %.0f, %d later than 100, the slowest %.0f; %.0f ms of sound ahead; %d gaps",
		seconds, len(s.Late), part(0.5), part(0.99), len(s.Late)-at, part(1), s.Ahead, s.Missed-before)
	browser.Until(t, ctx, `solution && solution.rung`)
}

// crowded lists texts of one figure that meet or stick out.
const crowded = `(() => {
  const bad = [];
  for (const figure of document.querySelectorAll("svg.live")) {
    const outer = figure.getBoundingClientRect();
    const texts = [...figure.querySelectorAll("text")].map(e => [e.textContent, e.getBoundingClientRect()]);
    if (!texts.length) bad.push(figure.id + " is empty");
    texts.forEach(([name, a], i) => {
      if (a.left < outer.left - 1 || a.right > outer.right + 1) bad.push(figure.id + ": " + name + " sticks out");
      texts.slice(0, i).forEach(([other, b]) => {
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (wide > 1 && high > 3) bad.push(figure.id + ": " + name + " meets " + other);
      });
    });
  }
  if (document.documentElement.scrollWidth > innerWidth) bad.push("the page is " + document.documentElement.scrollWidth + " px wide");
  return bad;
})()`

func looks(t *testing.T, ctx context.Context) {
	for _, width := range []int64{400, 1280, 1920} {
		browser.Do(t, ctx, chromedp.EmulateViewport(width, 4200)) // high enough for every figure
		browser.Until(t, ctx, `Object.values(figures).every(f => f.seen)`)
		browser.Evaluate[bool](t, ctx, `new Promise(done => setTimeout(() => done(true), 400))`)
		for _, complaint := range browser.Evaluate[[]string](t, ctx, crowded) {
			t.Errorf("%d px: %s", width, complaint)
		}
		browser.Picture(t, ctx, fmt.Sprintf("live-%d.png", width))
	}
	browser.Do(t, ctx, chromedp.EmulateViewport(1280, 1000))
	browser.Keep(t, "live.png", browser.Run(t, ctx, chromedp.FullScreenshot(100))) // the README's
	browser.Dark(t, ctx, true)
	browser.Picture(t, ctx, "live-dark.png")
	browser.Dark(t, ctx, false)
	browser.Keep(t, "live.pdf", browser.Run(t, ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPrintBackground())))
	browser.Medium(t, ctx, "print")
	browser.Picture(t, ctx, "live-print.png")
	if n := browser.Evaluate[int](t, ctx, `[...document.querySelectorAll("input, select, textarea, button")].filter(e => e.getClientRects().length > 0).length`); n != 0 {
		t.Errorf("%d controls in print", n)
	}
	if !browser.Evaluate[bool](t, ctx, `["point", "command"].every(id => byId(id).getClientRects().length > 0)`) {
		t.Error("the print does not say what it shows")
	}
	browser.Medium(t, ctx, "")
}

// keepsFigures holds every figure, kept as a file, to be XML that needs no style sheet.
func keepsFigures(t *testing.T, ctx context.Context) {
	files := browser.Evaluate[[]string](t, ctx, `[...document.querySelectorAll("svg.live")].map(e => standalone(e, "a figure"))`)
	if len(files) != 5 {
		t.Fatalf("%d figures", len(files))
	}
	for i, file := range files {
		decoder := xml.NewDecoder(strings.NewReader(file))
		for {
			if _, err := decoder.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("figure %d: %v", i, err)
			}
		}
		if strings.Contains(file, "class=") || strings.Contains(file, "var(") || !strings.Contains(file, "<path") {
			t.Errorf("figure %d depends on the page", i)
		}
		browser.Keep(t, fmt.Sprintf("live-figure-%d.svg", i), []byte(file))
	}
}

// refuses edits a stage file that the command line refuses too, then one that is legal.
func refuses(t *testing.T, ctx context.Context) {
	browser.Evaluate[bool](t, ctx, `byId("text").value = byId("text").value.replace("[supply]", "[supply]\nspare = 1"), byId("use").click(), true`)
	browser.Until(t, ctx, `byId("refusal").textContent.includes("supply.spare")`)
	browser.Evaluate[bool](t, ctx, `byId("text").value = state.file.replace(/(\[emitter\]\s+resistance = )"[^"]*"/, '$1"1ohm"'), byId("use").click(), true`)
	browser.Until(t, ctx, `state.own && byId("refusal").textContent === "" && !changing && solution.rung && byId("command").textContent.includes("-live.toml")`)
}

// everyStage solves each built-in stage in the page.
func everyStage(t *testing.T, ctx context.Context) {
	for _, named := range stage.Builtin() {
		browser.Evaluate[bool](t, ctx, fmt.Sprintf(`byId("stage").value = %q, byId("stage").dispatchEvent(new Event("change")), true`, named.Name))
		browser.Until(t, ctx, fmt.Sprintf(`state.sheet.name === %q && !changing && byId("bias-refusal").textContent === ""`, named.Name))
	}
	browser.Evaluate[bool](t, ctx, `byId("stage").value = "pair-12w", byId("stage").dispatchEvent(new Event("change")), true`)
	browser.Until(t, ctx, `state.sheet.name === "pair-12w" && !changing && solution.rung`)
}

// likeCommand drops the file in, sets what the command was given, saves the sound and
// compares.
func likeCommand(t *testing.T, ctx context.Context, source, output string) {
	browser.Evaluate[bool](t, ctx, `byId("stage").value = "pair-12w", byId("stage").dispatchEvent(new Event("change")), true`)
	browser.Until(t, ctx, `state.sheet.name === "pair-12w" && !changing && solution.rung`)
	browser.Do(t, ctx, chromedp.SetUploadFiles("#file", []string{source}))
	browser.Until(t, ctx, `state.source.name === "source.wav" && state.loaded && !state.busy`)
	browser.Evaluate[bool](t, ctx, `(() => {
		const set = (id, value) => { byId(id).value = value; byId(id).dispatchEvent(new Event("input")); };
		for (const id of ["turn-up", "match"]) if (byId(id).checked) byId(id).click();
		document.querySelector('input[name="mode"][value="bias"]').click();
		set("level", -6);
		set("bias-number", 1.1);
		return true;
	})()`)
	browser.Until(t, ctx, `!changing && state.value === 1.1 && solution.rung && Math.abs(solution.bias - 1.1) < 1e-9`)
	line := browser.Evaluate[string](t, ctx, `byId("command").textContent`)
	for _, want := range []string{"render --stage pair-12w --bias 1.1V --level -6", "--match off", fmt.Sprintf("--solver static --oversample %d ", render.StaticOversample), " source.wav"} {
		if !strings.Contains(line, want) {
			t.Errorf("the line %q lacks %q", line, want)
		}
	}
	text := browser.Evaluate[string](t, ctx, `recorded().then(file => {
		let text = "";
		for (const b of file) text += String.fromCharCode(b);
		return btoa(text);
	})`)
	sameSound(t, kept(t, text), output)
}

// kept writes a file that the page made, in base64, and returns its path.
func kept(t *testing.T, text string) string {
	t.Helper()
	file, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	made := filepath.Join(t.TempDir(), "made.wav")
	if err := os.WriteFile(made, file, 0o644); err != nil {
		t.Fatal(err)
	}
	return made
}

// oscillator stands for a microphone: a tone of 500 Hz.
const oscillator = `
navigator.mediaDevices.getUserMedia = async () => {
  const context = new AudioContext(), out = context.createMediaStreamDestination();
  const tone = new OscillatorNode(context, {frequency: 500});
  tone.connect(out);
  tone.start();
  return out.stream;
};`

// hears plays what comes in, and goes back to a piece.
func hears(t *testing.T, ctx context.Context) {
	browser.Evaluate[bool](t, ctx, `byId("input").click(), true`)
	browser.Until(t, ctx, `state.source.live && state.loaded && !state.busy`)
	browser.Evaluate[bool](t, ctx, `document.activeElement.blur(), true`)
	browser.Do(t, ctx, chromedp.KeyEvent(" "))
	browser.Until(t, ctx, `view && view.spectra && view.peak > 0.1 && (() => { const s = view.spectra, i = s.reference.indexOf(Math.max(...s.reference)); return Math.abs(s.hertz[i] - 500) < 12; })()`)
	browser.Evaluate[bool](t, ctx, `byId("piece").value = "tone", byId("piece").dispatchEvent(new Event("change")), true`)
	browser.Until(t, ctx, `state.source.name === "tone" && state.loaded && !state.busy && deck.stream === null && !byId("harmonics").hidden`)
}

// speed tells how much faster than time stereo at 48 kHz goes through the page's engine,
// the second time.
func speed(t *testing.T, ctx context.Context) {
	ratio := browser.Evaluate[float64](t, ctx, `(async () => {
		let ratio = 0;
		for (let i = 0; i < 3; i++) {
			const began = performance.now();
			await surveyor.call("record", {rate: 48000, drive: state.sheet.drive, controls: controls()}, [law, ...state.source.audio.map(a => new Uint8Array(a))]);
			ratio = Math.max(ratio, 1000 * state.source.seconds / (performance.now() - began));
		}
		return ratio;
	})()`)
	t.Logf("stereo at 48 kHz and 8x: %.1f times as fast as time", ratio)
}
