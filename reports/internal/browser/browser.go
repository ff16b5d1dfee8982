// Package browser tries pages in a real browser, for tests: it opens one without a
// network, and fails the test for everything that a page must not do: an exception, a
// word on the console, a request, a dialog.
package browser

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Find returns a Chromium. Without one the test is skipped, but in continuous
// integration it fails.
func Find(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	const message = "no Chromium found in PATH: the page cannot be tried in a browser (Debian: apt-get install chromium)"
	if os.Getenv("CI") == "true" {
		t.Fatal(message)
	}
	t.Skip(message)
	return ""
}

// complaints collects what a page must not do.
type complaints struct {
	sync.Mutex
	list []string
}

func (w *complaints) add(complaint string) {
	w.Lock()
	defer w.Unlock()
	w.list = append(w.list, complaint)
}

// local are the kinds of address that leave the machine alone.
var local = []string{"file:", "data:", "blob:"}

// event is called with everything that the browser tells of the page.
func (w *complaints) event(event any) {
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		w.add("exception: " + e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		w.add("console: " + string(e.Type))
	case *log.EventEntryAdded:
		if e.Entry.Level != log.EntryLevelVerbose {
			w.add("log: " + e.Entry.Text)
		}
	case *network.EventRequestWillBeSent:
		if !slices.ContainsFunc(local, func(kind string) bool { return strings.HasPrefix(e.Request.URL, kind) }) {
			w.add("request: " + e.Request.URL)
		}
	case *page.EventJavascriptDialogOpening:
		w.add("dialog: " + e.Message)
	}
}

// unused is what a browser prepares and nobody will see: the list under the address bar, in
// two renderers for every window, and a renderer for the next site.
const unused = "Translate,WebUIOmniboxPopup,WebUIOmniboxAimPopup,SpareRendererForSitePerProcess"

// Options start the Chromium at a path: without a window, a network of its own, or sound
// before a gesture asks for it. Our pages come from one place and need neither a process
// for each site nor a graphics card played by the processor.
func Options(path string) []chromedp.ExecAllocatorOption {
	return append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-features", unused), chromedp.Flag("disable-site-isolation-trials", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("autoplay-policy", "user-gesture-required"))
}

// Open opens the page at a path and returns the browser's context. The script runs
// before the page's own.
func Open(t *testing.T, path, script string) context.Context {
	t.Helper()
	allocator, stop := chromedp.NewExecAllocator(t.Context(), append(Options(Find(t)), chromedp.WindowSize(1280, 900))...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(allocator)
	t.Cleanup(cancel)
	w := &complaints{}
	if err := chromedp.Listen(ctx, w.event); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		w.Lock()
		defer w.Unlock()
		for _, complaint := range w.list {
			t.Error(complaint)
		}
	})
	Call(t, ctx, network.Enable, network.EnableParams{})
	Call(t, ctx, log.Enable, cdp.Empty{})
	Call(t, ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	Do(t, ctx, chromedp.Navigate("file://"+path))
	return ctx
}

// Call sends a command to the browser.
func Call[P, R any](t *testing.T, ctx context.Context, command cdp.Command[P, R], params P) {
	t.Helper()
	if _, err := chromedp.Call(ctx, command, params); err != nil {
		t.Fatal(err)
	}
}

// Do performs actions.
func Do(t *testing.T, ctx context.Context, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

// Run performs an action that has a value.
func Run[T any](t *testing.T, ctx context.Context, action chromedp.Action[T]) T {
	t.Helper()
	value, err := chromedp.Run(ctx, action)
	if err != nil {
		t.Fatal(err)
	}
	return value
}

// Evaluate runs an expression in the page and decodes its value, waiting for it if it
// is a promise.
func Evaluate[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	return Run(t, ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
}

// patience is how long a condition may take to come true: on two processors that test two
// other packages, a page's prediction of a piece, which lets sound go first, took over a minute.
const patience = 3 * time.Minute

// Until waits for a condition in the page, up to some minutes.
func Until(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	err := chromedp.Do(ctx, chromedp.Poll[chromedp.Void](condition, chromedp.WithPollingTimeout(patience)))
	if errors.Is(err, chromedp.ErrPollingTimeout) {
		t.Fatalf("%s does not come true", condition)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// Medium makes the page believe that it is printed, or with "" ends that.
func Medium(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	Call(t, ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name})
}

// Dark makes the page believe that its reader prefers dark, or ends that.
func Dark(t *testing.T, ctx context.Context, dark bool) {
	t.Helper()
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	Call(t, ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
	})
}

// Keep writes data that was looked at into the folder that QUIETCROSS_PICTURES names.
func Keep(t *testing.T, name string, data []byte) {
	t.Helper()
	folder := os.Getenv("QUIETCROSS_PICTURES")
	if folder == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(folder, name), data, 0o644); err != nil {
		t.Error(err)
	}
}

// Picture keeps a picture of the whole page.
func Picture(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if os.Getenv("QUIETCROSS_PICTURES") != "" {
		Keep(t, name, Run(t, ctx, chromedp.FullScreenshot(100)))
	}
}
