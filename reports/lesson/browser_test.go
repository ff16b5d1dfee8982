package lesson

import (
	"context"
	"encoding/xml"
	"fmt"
	"html"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"quietcross/reports/internal/browser"
	"quietcross/reports/internal/compiled"
	"quietcross/reports/live"
)

// write writes the page of a lesson with a fresh engine into a temporary folder.
func write(t *testing.T, l *Lesson) string {
	t.Helper()
	var err error
	if l.parts, err = live.NewParts(compiled.Files(t)); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "lesson.html")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if err := l.Write(file); err != nil {
		t.Fatal(err)
	}
	return path
}

// maximumPage is the size that a page must stay under, bytes.
const maximumPage = 5_000_000

func TestBrowser(t *testing.T) {
	browser.Find(t)
	l := built(t, "pair-12w")
	path := write(t, l)
	if info, err := os.Stat(path); err != nil || info.Size() >= maximumPage {
		t.Errorf("%v: the page has %d bytes", err, info.Size())
	} else {
		t.Logf("the page has %d bytes", info.Size())
	}
	ctx := browser.Open(t, path, "")
	browser.Until(t, ctx, `document.body.dataset.ready === "yes"`)
	t.Logf("ready after %.0f ms", browser.Evaluate[float64](t, ctx, `Number(document.body.dataset.after)`))
	t.Run("keys", func(t *testing.T) { keys(t, ctx) })
	t.Run("plays", func(t *testing.T) { plays(t, ctx) })
	t.Run("slides", func(t *testing.T) { slides(t, ctx) })
	t.Run("other music", func(t *testing.T) { otherMusic(t, ctx) })
	t.Run("looks", func(t *testing.T) { looks(t, ctx, len(l.steps)) })
	t.Run("figures are kept", func(t *testing.T) { keepsFigures(t, ctx) })
	t.Run("prints", func(t *testing.T) { prints(t, ctx) })
	t.Run("prints its sheets", func(t *testing.T) { printsSheets(t, ctx, l) }) // it leaves the page
}

func key(t *testing.T, ctx context.Context, keys ...string) {
	t.Helper()
	for _, k := range keys {
		browser.Do(t, ctx, chromedp.KeyEvent(k))
	}
}

// keys drives the page by keyboard alone: from the cover through every step and back, with
// sound, figure, answer and bias.
func keys(t *testing.T, ctx context.Context) {
	if !browser.Evaluate[bool](t, ctx, `state.paused && deck.context === null && state.at === 0`) {
		t.Error("the page does not begin silent, on its cover")
	}
	key(t, ctx, kb.ArrowRight, kb.ArrowRight, kb.ArrowLeft, kb.PageDown, kb.PageDown)
	browser.Until(t, ctx, `state.at === 3 && location.hash === "#halves" && !section().hidden`)
	key(t, ctx, "3")
	browser.Until(t, ctx, `state.chosen[2] === 2 && section().querySelectorAll(".play")[2].getAttribute("aria-pressed") === "true"`)
	key(t, ctx, "f")
	browser.Until(t, ctx, `figureOf(3) === "gain"`)
	key(t, ctx, "a")
	browser.Until(t, ctx, `!section().querySelector(".answer").hidden`)
	key(t, ctx, "a", "p")
	browser.Until(t, ctx, `section().querySelector(".answer").hidden && document.documentElement.classList.contains("projector")`)
	key(t, ctx, "p", kb.ArrowRight, kb.ArrowRight, "b")
	browser.Until(t, ctx, `state.at === 5 && document.activeElement.matches(".bias-slider")`)
	key(t, ctx, kb.Escape)
	browser.Until(t, ctx, `document.activeElement === document.body`)
}

// plays hears a step: what comes out of the page's own player is as loud as the text says
// it is, and the figure follows it.
func plays(t *testing.T, ctx context.Context) {
	browser.Evaluate[bool](t, ctx, `turn(1), true`)
	key(t, ctx, " ")
	browser.Until(t, ctx, `!state.paused && view && view.position > 0.3 && view.peak > 0.1`)
	key(t, ctx, "1")
	browser.Until(t, ctx, `sound().controls.monitor === "reference"`)
	key(t, ctx, kb.ArrowRight)
	browser.Until(t, ctx, `state.at === 2 && !state.paused && state.scene === sceneOf(2)`)
	key(t, ctx, " ")
	browser.Until(t, ctx, `state.paused`)
}

// slides moves the bias from nothing to where the fault is gone, and waits for the
// prediction to say so.
func slides(t *testing.T, ctx context.Context) {
	browser.Evaluate[bool](t, ctx, `turn(5), true`)
	says := `section().querySelectorAll(".says")[1].textContent`
	if said := browser.Evaluate[string](t, ctx, says); !strings.Contains(said, "predicted: heard") {
		t.Errorf("without bias it says %q", said)
	}
	browser.Evaluate[bool](t, ctx, `(() => {
		const slider = section().querySelector(".bias-slider"), scene = data.scenes[steps[5].sounds[2].scene];
		slider.value = Math.round(1000 * scene.bias / steps[5].maximum);
		slider.dispatchEvent(new Event("input"));
		return true;
	})()`)
	browser.Until(t, ctx, `moved[5] && moved[5].quiescent > 0.01 && `+says+`.includes("not heard")`)
}

// otherMusic plays a piece that the text was not written for: its predictions are made in
// the page.
func otherMusic(t *testing.T, ctx context.Context) {
	browser.Evaluate[bool](t, ctx, `turn(1), byId("piece").value = "quiet-chord", byId("piece").dispatchEvent(new Event("change")), true`)
	browser.Until(t, ctx, `!state.busy && state.loaded && !state.source.lesson && state.source.audio.length === 2`)
	key(t, ctx, "2")
	browser.Until(t, ctx, `section().querySelectorAll(".says")[1].textContent.startsWith("predicted: heard")`)
	browser.Evaluate[bool](t, ctx, `byId("piece").value = "lesson", byId("piece").dispatchEvent(new Event("change")), true`)
	browser.Until(t, ctx, `!state.busy && state.loaded && state.source.lesson`)
}

// keepsFigures holds figures, graphs and drawings, kept as files, to be XML that needs no
// style sheet.
func keepsFigures(t *testing.T, ctx context.Context) {
	browser.Evaluate[bool](t, ctx, `turn(8), choose(8, "currents"), true`)
	files := browser.Evaluate[[]string](t, ctx, `[...section().querySelectorAll(".stagebox > svg, .graph > svg, .drawing > svg")].map(e => standalone(e, "a figure"))`)
	if len(files) != 3 {
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
		if strings.Contains(file, "class=") || strings.Contains(file, "var(") || !strings.Contains(file, "viewBox") {
			t.Errorf("figure %d depends on the page", i)
		}
	}
}

// prints: on paper every step stands, with its figure and its drawing, without a control
// and without an answer.
func prints(t *testing.T, ctx context.Context) {
	browser.Medium(t, ctx, "print")
	bad := browser.Evaluate[[]string](t, ctx, `(() => {
		const bad = [], seen = e => e.getClientRects().length > 0;
		document.querySelectorAll("button:not(.play), input, select, .answer, .bar").forEach(e => { if (seen(e)) bad.push(e.className + e.id + " is printed"); });
		sections.slice(1).forEach(s => {
			if (!seen(s)) bad.push(s.id + " is not printed");
			if (![...s.querySelectorAll(".moving svg")].some(seen)) bad.push(s.id + " has no figure");
			if (![...s.querySelectorAll(".circuit svg")].some(seen)) bad.push(s.id + " has no drawing");
		});
		return bad;
	})()`)
	for _, complaint := range bad {
		t.Error(complaint)
	}
	browser.Medium(t, ctx, "")
	pdf := browser.Run(t, ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPrintBackground()))
	browser.Keep(t, "lesson.pdf", pdf)
	t.Logf("printed on %d pages", pages(pdf))
	browser.Dark(t, ctx, true)
	browser.Picture(t, ctx, "lesson-dark.png")
	browser.Dark(t, ctx, false)
}

// pages counts the pages of a PDF file.
func pages(pdf []byte) int { return len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1)) }

// sheets returns the handout and the key as they are written.
func sheets(t *testing.T, l *Lesson) (handout, key string) {
	t.Helper()
	var given, answers strings.Builder
	if err := l.WriteHandout(&given); err != nil {
		t.Fatal(err)
	}
	if err := l.WriteKey(&answers); err != nil {
		t.Fatal(err)
	}
	return given.String(), answers.String()
}

// TestHandout: no answer stands on it; the key has every one.
func TestHandout(t *testing.T) {
	l := built(t, "pair-12w")
	handout, key := sheets(t, l)
	given, solved := html.UnescapeString(handout), html.UnescapeString(key)
	for _, q := range l.bank {
		if strings.Contains(given, q.Answer) || !strings.Contains(solved, q.Answer) {
			t.Errorf("the answer %q is on the wrong sheet", q.Answer)
		}
		if !strings.Contains(given, q.Text) {
			t.Errorf("the handout lacks %q", q.Text)
		}
	}
	for _, s := range l.steps {
		if strings.Contains(given, s.answer) || !strings.Contains(solved, s.answer) {
			t.Errorf("the answer %q is on the wrong sheet", s.answer)
		}
	}
	if strings.Contains(handout, "predicted:") || strings.Contains(handout, `class="way`) {
		t.Error("the handout says what is heard, or shows a way")
	}
}

// printsSheets: the handout has four pages of A4 at most.
func printsSheets(t *testing.T, ctx context.Context, l *Lesson) {
	handout, key := sheets(t, l)
	for name, text := range map[string]string{"handout": handout, "key": key} {
		path := filepath.Join(t.TempDir(), name+".html")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		browser.Do(t, ctx, chromedp.Navigate("file://"+path))
		pdf := browser.Run(t, ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPreferCSSPageSize()))
		browser.Keep(t, name+".pdf", pdf)
		browser.Picture(t, ctx, name+".png")
		n := pages(pdf)
		t.Logf("%s: %d pages", name, n)
		if n < 1 || name == "handout" && n > 4 {
			t.Errorf("%s: %d pages", name, n)
		}
	}
}

// crowded lists what a reader would miss on the step that is shown.
const crowded = `(() => {
  const bad = [], s = section(), wide = innerWidth >= 1000;
  if (document.documentElement.scrollWidth > innerWidth) bad.push("the page is " + document.documentElement.scrollWidth + " px wide");
  const main = document.querySelector("main");
  if (wide && state.at > 0 && main.scrollHeight > main.clientHeight + 1) bad.push("the step needs " + main.scrollHeight + " px of " + main.clientHeight);
  for (const svg of s.querySelectorAll("svg.live, svg.schematic, svg.plot")) {
    const outer = svg.getBoundingClientRect();
    if (!outer.width) continue;
    if (outer.height < 120) bad.push("a figure is only " + outer.height + " px high");
    const scale = Math.min(outer.width / svg.viewBox.baseVal.width, outer.height / svg.viewBox.baseVal.height);
    for (const e of svg.querySelectorAll("text")) {
      const size = parseFloat(getComputedStyle(e).fontSize) * scale;
      if (wide && size < 16) bad.push(svg.getAttribute("class") + ": " + e.textContent + " is " + size.toFixed(1) + " px high");
      const a = e.getBoundingClientRect();
      if (a.left < outer.left - 1 || a.right > outer.right + 1 || a.top < outer.top - 1 || a.bottom > outer.bottom + 1) bad.push(svg.getAttribute("class") + ": " + e.textContent + " sticks out");
    }
    const texts = [...svg.querySelectorAll("text")].map(e => [e.textContent, e.getBoundingClientRect()]);
    texts.forEach(([name, a], i) => texts.slice(0, i).forEach(([other, b]) => {
      const x = Math.min(a.right, b.right) - Math.max(a.left, b.left), y = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (x > 2 && y > 4) bad.push(svg.getAttribute("class") + ": " + name + " meets " + other);
    }));
  }
  return bad;
})()`

// looks visits every step at every size.
func looks(t *testing.T, ctx context.Context, steps int) {
	for _, size := range [][2]int64{{400, 800}, {1280, 720}, {1920, 1080}} {
		browser.Do(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		if size[0] > 1000 {
			browser.Evaluate[bool](t, ctx, `document.documentElement.classList.contains("projector") || project(), true`)
		}
		for at := range steps + 1 {
			browser.Evaluate[bool](t, ctx, fmt.Sprintf(`turn(%d), new Promise(done => setTimeout(() => done(true), 120))`, at))
			for _, complaint := range browser.Evaluate[[]string](t, ctx, crowded) {
				t.Errorf("%d px, step %d: %s", size[0], at, complaint)
			}
			if size[0] < 1000 {
				browser.Picture(t, ctx, fmt.Sprintf("lesson-%d-%02d.png", size[0], at))
			} else if os.Getenv("QUIETCROSS_PICTURES") != "" {
				browser.Keep(t, fmt.Sprintf("lesson-%d-%02d.png", size[0], at), browser.Run(t, ctx, chromedp.CaptureScreenshot()))
			}
		}
	}
}
