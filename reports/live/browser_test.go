package live_test

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"quietcross/reports/internal/browser"
	"quietcross/reports/live"
	"quietcross/stage"
)

// engineFiles builds the engine once for all tests.
var engineFiles = sync.OnceValues(func() (fs.FS, error) {
	folder, err := os.MkdirTemp("", "quietcross-engine-test-")
	if err != nil {
		return nil, err
	}
	output, err := exec.Command("go", "run", "./pack", folder).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("go run ./pack: %w\n%s", err, output)
	}
	return os.DirFS(folder), nil
})

// write writes a page with a fresh engine into a temporary folder.
func write(t *testing.T, name string) string {
	t.Helper()
	files, err := engineFiles()
	if err != nil {
		t.Fatal(err)
	}
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
	if err := live.Write(file, live.Options{Stage: spec, Engine: files}); err != nil {
		t.Fatal(err)
	}
	return path
}

const ready = `document.body.dataset.ready === "yes"`

// TestBrowser tries one page in a real browser. The parts share the browser and run in
// order.
func TestBrowser(t *testing.T) {
	browser.Find(t)
	ctx := browser.Open(t, write(t, "pair-12w"), "")
	time.Sleep(8 * time.Second)
	t.Log(browser.Evaluate[string](t, ctx, `byId("status").textContent + " " + document.body.dataset.ready+ performance.now()`))
	browser.Until(t, ctx, ready)
	browser.Until(t, ctx, `state.source && !state.busy`)
	t.Run("play", func(t *testing.T) { plays(t, ctx) })
	t.Run("looks", func(t *testing.T) { looks(t, ctx) })
}

func plays(t *testing.T, ctx context.Context) {
	browser.Do(t, ctx, chromedp.Click("#play"))
	browser.Until(t, ctx, `view && view.position > 1`)
	t.Log(browser.Evaluate[string](t, ctx, `byId("status").textContent + " | " + byId("point").textContent + " | missed " + deck.missed+ " | "+byId("command").textContent`))
}

func looks(t *testing.T, ctx context.Context) {
	for _, width := range []int64{400, 1280, 1920} {
		browser.Do(t, ctx, chromedp.EmulateViewport(width, 1000))
		if wide := browser.Evaluate[int64](t, ctx, `document.documentElement.scrollWidth`); wide > width {
			t.Errorf("the page is %d px wide at %d", wide, width)
		}
		browser.Picture(t, ctx, fmt.Sprintf("live-%d.png", width))
	}
}
