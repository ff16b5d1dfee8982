package report

import (
	"context"
	"errors"
	"os"
	"os/exec"
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

// findBrowser returns a Chromium. Without one the test is skipped, but in
// continuous integration it fails.
func findBrowser(t *testing.T) string {
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

// watch collects what a page must not do.
type watch struct {
	sync.Mutex
	complaints []string
}

func (w *watch) add(complaint string) {
	w.Lock()
	defer w.Unlock()
	w.complaints = append(w.complaints, complaint)
}

// event is called with everything that the browser tells of the page.
func (w *watch) event(event any) {
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
		if !strings.HasPrefix(e.Request.URL, "file:") && !strings.HasPrefix(e.Request.URL, "data:") {
			w.add("request: " + e.Request.URL)
		}
	case *page.EventJavascriptDialogOpening:
		w.add("dialog: " + e.Message)
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

// browse opens the page of a set and returns the browser's context. At the end
// of the test it fails for everything that a page must not do.
func browse(t *testing.T, dir string) context.Context {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(findBrowser(t)), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("autoplay-policy", "user-gesture-required"), chromedp.WindowSize(1280, 900))
	allocator, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(allocator)
	t.Cleanup(cancel)
	w := &watch{}
	if err := chromedp.Listen(ctx, w.event); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		w.Lock()
		defer w.Unlock()
		for _, complaint := range w.complaints {
			t.Error(complaint)
		}
	})
	call(t, ctx, network.Enable, network.EnableParams{})
	call(t, ctx, log.Enable, cdp.Empty{})
	call(t, ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: recordStarts})
	do(t, ctx, chromedp.Navigate("file://"+dir+"/"+File))
	return ctx
}

// call sends a command to the browser.
func call[P, R any](t *testing.T, ctx context.Context, command cdp.Command[P, R], params P) {
	t.Helper()
	if _, err := chromedp.Call(ctx, command, params); err != nil {
		t.Fatal(err)
	}
}

func do(t *testing.T, ctx context.Context, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

func run[T any](t *testing.T, ctx context.Context, action chromedp.Action[T]) T {
	t.Helper()
	value, err := chromedp.Run(ctx, action)
	if err != nil {
		t.Fatal(err)
	}
	return value
}

// evaluate runs an expression in the page and decodes its value, waiting for it
// if it is a promise.
func evaluate[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	return run(t, ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
}

// until waits for a condition in the page.
func until(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	err := chromedp.Do(ctx, chromedp.Poll[chromedp.Void](condition, chromedp.WithPollingTimeout(20*time.Second)))
	if errors.Is(err, chromedp.ErrPollingTimeout) {
		t.Fatalf("%s does not come true", condition)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// medium makes the page believe that it is printed, or ends that.
func medium(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	call(t, ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name})
}
