package lesson

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"

	"quietcross/reports/internal/browser"
	"quietcross/reports/live"
)

// engineFiles builds the engine once for all tests.
var engineFiles = sync.OnceValues(func() (fs.FS, error) {
	folder, err := os.MkdirTemp("", "quietcross-engine-test-")
	if err != nil {
		return nil, err
	}
	output, err := exec.Command("go", "run", "../live/pack", folder).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("go run ../live/pack: %w\n%s", err, output)
	}
	return os.DirFS(folder), nil
})

// write writes the page of a lesson with a fresh engine into a temporary folder.
func write(t *testing.T, l *Lesson) string {
	t.Helper()
	files, err := engineFiles()
	if err != nil {
		t.Fatal(err)
	}
	if l.parts, err = live.NewParts(files); err != nil {
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
	looks(t, ctx, len(l.steps))
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
    for (const e of svg.querySelectorAll("text")) {
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
	browser.Keep(t, "lesson.pdf", browser.Run(t, ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPrintBackground())))
}
