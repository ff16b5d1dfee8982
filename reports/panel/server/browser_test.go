package server

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"quietcross/reports/internal/browser"
)

// chromium is the one browser of all tests; each works in a profile of its own.
var chromium struct {
	once sync.Once
	path string
	ctx  context.Context
	stop func()
	err  error
}

// startChromium looks for a Chromium and starts it without a window.
func startChromium() {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			chromium.path = path
			break
		}
	}
	if chromium.path == "" {
		return
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), browser.Options(chromium.path)...)
	chromium.ctx, chromium.stop = chromedp.NewContext(ctx)
	chromium.err = chromedp.Do(chromium.ctx, chromedp.Navigate("about:blank"))
	tab := chromium.stop
	chromium.stop = func() { tab(); stop() }
}

// newBrowser opens a profile in a headless Chromium, or skips where there is
// none. A checking server sets CI=true and must have one.
func newBrowser(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("browser tests take their time; run without -short")
	}
	chromium.once.Do(startChromium)
	switch {
	case chromium.path == "" && os.Getenv("CI") == "true":
		t.Fatal("no Chromium on the PATH, and CI=true asks for the browser tests")
	case chromium.path == "":
		t.Skip("no Chromium on the PATH: the pages are not tested in a browser here")
	case chromium.err != nil:
		t.Fatal(chromium.err)
	}
	ctx, cancel := chromedp.NewContext(chromium.ctx, chromedp.WithNewBrowserContext(), chromedp.WithListener(func(event any) {
		if e, ok := event.(*runtime.EventExceptionThrown); ok {
			t.Errorf("exception in the page: %+v", e.ExceptionDetails)
		}
	}))
	t.Cleanup(cancel)
	do(t, ctx, chromedp.Navigate("about:blank")) // opens the tab
	ctx, cancel = context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

type action = chromedp.Action[chromedp.Void]

// do runs actions and stops the test with the page's words when one fails.
func do(t *testing.T, ctx context.Context, actions ...action) {
	t.Helper()
	if err := chromedp.Do(ctx, actions...); err != nil {
		text, _ := chromedp.Run(ctx, chromedp.Evaluate[string]("document.body.innerText"))
		t.Fatalf("%v; the page says:\n%s", err, text)
	}
}

// press sends keys to whatever has the focus, as a keyboard does: the character
// belongs to the key's going down, so that a page that takes the key keeps it
// from the element.
func press(keys ...string) action {
	return func(ctx context.Context, page *chromedp.Target) (v chromedp.Void, err error) {
		for _, k := range keys {
			events := kb.Encode([]rune(k)[0])
			down, up := *events[0], *events[len(events)-1]
			down.Type = input.DispatchKeyEventTypeRawKeyDown
			if len(events) == 3 {
				down.Type, down.Text = input.DispatchKeyEventTypeKeyDown, events[1].Text
			}
			for _, e := range []input.DispatchKeyEventParams{down, up} {
				if _, err := cdp.Call(ctx, page, input.DispatchKeyEvent, e); err != nil {
					return v, err
				}
			}
		}
		return v, nil
	}
}

// until waits for a condition in the page's own language, across navigations. The page
// itself looks at it, a second at a time: to ask it every time from here would keep three
// processes busy.
func until(condition string) action {
	look := fmt.Sprintf(`new Promise((done) => {
		const end = Date.now() + 1000;
		const look = () => {
			let holds = false;
			try { holds = !!(%s); } catch {}
			if (holds || Date.now() > end) done(holds); else setTimeout(look, 20);
		};
		look();
	})`, condition)
	return func(ctx context.Context, page *chromedp.Target) (v chromedp.Void, err error) {
		for end := time.Now().Add(20 * time.Second); time.Now().Before(end); {
			short, cancel := context.WithTimeout(ctx, 5*time.Second)
			holds, err := chromedp.Evaluate[bool](look, chromedp.EvalAwaitPromise)(short, page)
			cancel()
			switch {
			case err == nil && holds:
				return v, nil
			case ctx.Err() != nil:
				return v, ctx.Err()
			case err != nil: // the page is being left
				time.Sleep(20 * time.Millisecond)
			}
		}
		return v, fmt.Errorf("never true: %s", condition)
	}
}

// ready waits for the trial of a number to be loaded and playable.
func ready(number string) action {
	return until(`document.getElementById("progress").textContent.includes("rial ` + number + ` of") && document.querySelectorAll(".interval").length === 3`)
}

// answerShown holds when a practice trial shows its answer.
const answerShown = `document.getElementById("mark").textContent === "Next trial"`

// goOn holds when the noise was played long enough.
const goOn = `!document.getElementById("go").disabled`

const status = `document.getElementById("status").textContent`

func shortSession() Settings {
	s := Defaults(Adaptive)
	s.Practice, s.Trials, s.CatchEvery = 1, 5, 4
	return s
}

func browserRig(t *testing.T, s Settings) *rig {
	return newRig(t, s, func(c *Config) { c.Clips = browserClips() })
}

// newest returns the last session of a store with its trials.
func (r *rig) newest(t *testing.T) (*Session, []Trial) {
	t.Helper()
	sessions, err := r.store.Sessions(t.Context())
	if err != nil || len(sessions) == 0 {
		t.Fatal("no session", err)
	}
	v := sessions[len(sessions)-1]
	trials, err := r.store.Trials(t.Context(), v.ID)
	if err != nil {
		t.Fatal(err)
	}
	return v, trials
}

// drawn tells whether the drawing of the clips has points of a colour: the sound's within the
// stretch, or that of the line that moves while it plays.
func drawn(colour string) string {
	return `(() => {
		const c = document.getElementById("shape"), want = [1, 3, 5].map(at => parseInt("` + colour + `".slice(at, at + 2), 16));
		if (!c.width || !c.height) return false;
		const d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
		for (let i = 0; i < d.length; i += 4) if (d[i + 3] === 255 && want.every((v, k) => Math.abs(d[i + k] - v) < 3)) return true;
		return false;
	})()`
}

// A whole session without a pointer: from the start page to the result.
func TestSessionByKeyboard(t *testing.T) {
	t.Parallel()
	r := browserRig(t, shortSession())
	ctx := newBrowser(t)
	do(t, ctx, chromedp.Navigate(r.http.URL), until(`document.activeElement.name === "material"`),
		press("P", kb.Tab, kb.Tab, " ", kb.Tab, kb.Enter), until(`location.pathname === "/level" && document.readyState === "complete"`),
		until(`document.activeElement.id === "noise"`), press(kb.Enter), until(status+`.includes("three seconds")`), until(goOn),
		press(kb.Enter, kb.Tab, kb.Tab, "7", "2", kb.Tab, "h", "e", "a", "d", kb.Tab, "d", "e", "n", kb.Tab, " ", kb.Tab, kb.Enter),
		until(`location.pathname === "/listen"`), ready("1"), until(drawn("#55606e")))
	do(t, ctx, press(" "), until(`document.getElementById("play").textContent === "Pause"`), until(drawn("#a84300")),
		press("2", ","), press("3", "-"), until(`!document.getElementById("mark").disabled`),
		press(kb.Enter), until(`!document.getElementById("sure").hidden`), press(kb.Escape), until(`document.getElementById("sure").hidden`),
		press(kb.Enter, kb.Enter), until(answerShown), press(kb.Enter))
	_, trials := r.newest(t)
	if len(trials) == 0 || trials[0].Kind != Practice || trials[0].Choice != 3 {
		t.Errorf("practice stored as %+v", trials)
	}
	for n := 2; ; n++ {
		do(t, ctx, until(`location.pathname === "/over" || document.getElementById("progress").textContent.includes("Trial `+string(rune('0'+n))+`")`))
		if over(t, ctx) {
			break
		}
		do(t, ctx, press("1", "2", "3", "1"), until(`!document.getElementById("mark").disabled`), press(kb.Enter, kb.Enter))
	}
	v, trials := r.newest(t)
	if v.Finished.IsZero() || v.Room != "den" || v.Matched != "meter" || v.Material != "Plucked line" || v.Device != "head" || v.SPL == nil || *v.SPL != 72 || v.PlayedRate == 0 {
		t.Errorf("session %+v", v)
	}
	for _, tr := range trials[1:] {
		if tr.Choice != 1 {
			t.Errorf("trial %d: %d", tr.Number, tr.Choice)
		}
	}
}

// A whole session by touch on a phone of 390 px, where nothing may stick out.
func TestSessionByTouch(t *testing.T) {
	t.Parallel()
	r := browserRig(t, shortSession())
	ctx := newBrowser(t)
	fits := func(ctx context.Context, page *chromedp.Target) (chromedp.Void, error) {
		over, err := chromedp.Evaluate[[]string](`[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => e.tagName + "." + e.className)`)(ctx, page)
		if len(over) > 0 {
			t.Errorf("beyond 390 px: %q", over)
		}
		return chromedp.Void{}, err
	}
	do(t, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch),
		chromedp.Navigate(r.http.URL), fits, tap(`input[name=consent]`), tap(`form[action="/begin"] button`), until(`location.pathname === "/level" && document.readyState === "complete"`), fits,
		tap(`#noise`), until(status+`.includes("three seconds")`), until(goOn), tap(`#noise`), chooseVoice, tap(`input[name=read]`), tap(`#go`),
		until(`location.pathname === "/listen"`), ready("1"), fits)
	for n := 1; ; n++ {
		do(t, ctx, until(`location.pathname === "/over" || document.getElementById("progress").textContent.includes("rial `+string(rune('0'+n))+` of")`))
		if over(t, ctx) {
			break
		}
		do(t, ctx, tap(`.interval:nth-child(1)`), tap(`.interval:nth-child(3)`), tap(`.interval:nth-child(2)`),
			until(`!document.getElementById("mark").disabled`), tap(`#mark`), until(`!document.getElementById("sure").hidden`), fits, tap(`#save`))
		if n == 1 {
			do(t, ctx, until(answerShown), fits, tap(`#mark`))
		}
	}
	do(t, ctx, fits)
	v, trials := r.newest(t)
	if v.Finished.IsZero() {
		t.Error("not finished")
	}
	for _, tr := range trials {
		if tr.Choice != 2 {
			t.Errorf("trial %d: %d", tr.Number, tr.Choice)
		}
	}
}

// over reports whether the last page is shown.
func over(t *testing.T, ctx context.Context) bool {
	t.Helper()
	path, err := chromedp.Run(ctx, chromedp.Location())
	if err != nil {
		t.Fatal(err)
	}
	return strings.HasSuffix(path, "/over")
}

// place is a point of the page.
type place struct{ X, Y float64 }

// placeIn brings an element into view and returns the place at a share of its width, half
// way down.
func placeIn(ctx context.Context, page *chromedp.Target, selector string, share float64) (place, error) {
	return chromedp.Evaluate[place]("(() => { const e = document.querySelector(`"+selector+"`); e.scrollIntoView({block: `center`, behavior: `instant`}); const r = e.getBoundingClientRect(); return {X: r.x + 2 + "+fmt.Sprint(share)+" * (r.width - 4), Y: r.y + r.height / 2}; })()")(ctx, page)
}

// tap touches the middle of an element with a finger.
func tap(selector string) action {
	return func(ctx context.Context, page *chromedp.Target) (v chromedp.Void, err error) {
		at, err := placeIn(ctx, page, selector, 0.5)
		if err != nil {
			return v, err
		}
		finger := []*input.TouchPoint{{X: at.X, Y: at.Y}}
		if _, err := cdp.Call(ctx, page, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchStart, TouchPoints: finger}); err != nil {
			return v, err
		}
		_, err = cdp.Call(ctx, page, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchEnd, TouchPoints: []*input.TouchPoint{}})
		return v, err
	}
}

// A round of grades by keyboard: digits hear, arrows grade, Enter twice saves.
func TestGradesByKeyboard(t *testing.T) {
	t.Parallel()
	settings := Defaults(Multi)
	settings.Practice, settings.Trials = 0, 1
	r := browserRig(t, settings)
	ctx := newBrowser(t)
	do(t, ctx, chromedp.Navigate(r.http.URL), agree, setLevel,
		until(`document.querySelectorAll(".interval").length === 6`), press("0"))
	for i := 1; i <= 5; i++ {
		do(t, ctx, until(`document.getElementById("mark").disabled`), press(string(rune('0'+i))), until(`document.activeElement.id === "grade`+string(rune('0'+i))+`"`))
		for range 2 * i {
			do(t, ctx, press(kb.ArrowLeft))
		}
	}
	do(t, ctx, until(`!document.getElementById("mark").disabled`), press(kb.Enter), until(`!document.getElementById("sure").hidden`), press(kb.Enter), until(`location.pathname === "/over"`))
	_, trials := r.newest(t)
	for _, item := range trials[0].Items[1:] {
		if want := 3 - 0.2*float64(item.Position); item.Grade == nil || math.Abs(*item.Grade-want) > 1e-9 {
			t.Errorf("sample %d: %v, want %.1f", item.Position, item.Grade, want)
		}
	}
}
