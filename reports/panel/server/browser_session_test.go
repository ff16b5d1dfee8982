package server

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// picturesIn is a folder for pictures of the pages that the tests look at.
const picturesIn = "QUIETCROSS_PICTURES"

// picture keeps what the page looks like, if it is asked for.
func picture(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv(picturesIn)
	if dir == "" {
		return
	}
	yes := true
	shot, err := chromedp.Run(ctx, func(ctx context.Context, tab *chromedp.Target) (page.CaptureScreenshotResult, error) {
		return cdp.Call(ctx, tab, page.CaptureScreenshot, page.CaptureScreenshotParams{CaptureBeyondViewport: &yes})
	})
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".png"), shot.Data, 0o644)
	}
	if err != nil {
		t.Error(err)
	}
}

// walk is a whole session by one kind of hand.
type walk struct {
	begin, level action
	// trial hears everything and answers a trial; round does so with a round of grades.
	trial, round []action
	onward       action // after a practice trial
}

// byMouse walks by pointer alone and byKeyboard by keys alone.
var byMouse = walk{
	begin: both(mouse(`input[name=consent]`), mouse(`form[action="/begin"] button`)),
	level: both(mouse(`#noise`), until(goOn), mouse(`#noise`), chooseVoice, mouse(`input[name=read]`), mouse(`#go`)),
	trial: []action{
		mouse(`.interval:nth-child(1)`), until(heardEnough(0)), mouse(`.interval:nth-child(2)`), until(heardEnough(1)), mouse(`.interval:nth-child(3)`),
		until(answerable), mouse(`#mark`), until(`!document.getElementById("sure").hidden`), mouse(`#save`),
	},
	round:  roundBy(func(i int) action { return mouse(fmt.Sprintf(`.row:nth-child(%d) .interval`, i+1)) }, func(i int) action { return mouseAt(fmt.Sprintf(`#grade%d`, i), float64(i)/2) }, both(mouse(`#mark`), until(`!document.getElementById("sure").hidden`), mouse(`#save`))),
	onward: mouse(`#mark`),
}

var byKeyboard = walk{
	begin: both(focus(`input[name=consent]`), press(" "), focus(`form[action="/begin"] button`), press(kb.Enter)),
	level: both(until(`document.activeElement.id === "noise"`), press(kb.Enter), until(goOn), press(kb.Enter), press(kb.Tab, kb.Tab, "7", "2", kb.Tab, kb.Tab, kb.Tab, " ", kb.Tab, kb.Enter)),
	trial: []action{
		press("1"), until(heardEnough(0)), press("2"), until(heardEnough(1)), press("3"),
		until(answerable), press(kb.Enter), until(`!document.getElementById("sure").hidden`), press(kb.Enter),
	},
	round:  roundBy(func(i int) action { return press(string(rune('0' + i))) }, func(i int) action { return press([]string{kb.ArrowLeft, kb.End}[i-1]) }, both(press(kb.Enter), until(`!document.getElementById("sure").hidden`), press(kb.Enter))),
	onward: press(kb.Enter),
}

const answerable = `!document.getElementById("mark").disabled`

func heardEnough(i int) string {
	return fmt.Sprintf(`document.querySelectorAll(".interval")[%d].dataset.heard === "enough"`, i)
}

// roundBy hears and grades the reference and two samples.
func roundBy(hear, grade func(i int) action, save action) []action {
	actions := []action{hear(0), until(heardEnough(0))}
	for i := 1; i <= 2; i++ {
		actions = append(actions, hear(i), until(heardEnough(i)), grade(i))
	}
	return append(actions, until(answerable), save)
}

func both(actions ...action) action {
	return func(ctx context.Context, page *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Steps(actions...)(ctx, page)
	}
}

// focus brings the focus to an element, as enough tabs do.
func focus(selector string) action {
	return func(ctx context.Context, page *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Evaluate[chromedp.Void]("document.querySelector(`"+selector+"`).focus()")(ctx, page)
	}
}

// shortOf is a session of a method that is soon over, with a minimum listening time.
func shortOf(m Method) Settings {
	s := Defaults(m)
	s.Practice, s.Trials, s.CatchEvery, s.Quiescent = 1, 5, 0, 0.010
	if m == Graded {
		s.Trials = 1
	}
	return s
}

// Whole sessions in all four methods, by mouse and by keyboard, at 400 and 1280 px: from
// the start page to the last, nothing sticking out, every interval heard for its time. The
// ordinary run has five: trials of three methods are answered on one page, so each method
// has one session and the four of them every hand at every width; grades have a page of
// their own and both hands. QUIETCROSS_LONG=1 has all sixteen.
func TestWholeSessions(t *testing.T) {
	t.Parallel()
	hands := map[string]walk{"mouse": byMouse, "keyboard": byKeyboard}
	ordinary := []string{"adaptive-mouse-400", "staircase-keyboard-1280", "triangle-keyboard-400", "graded-mouse-1280", "graded-keyboard-400"}
	for _, m := range []Method{Adaptive, Staircase, Triangle, Graded} {
		for hand, walk := range hands {
			for _, width := range []int64{400, 1280} {
				name := fmt.Sprintf("%s-%s-%d", m, hand, width)
				if !slices.Contains(ordinary, name) && os.Getenv("QUIETCROSS_LONG") == "" {
					continue
				}
				t.Run(name, func(t *testing.T) { t.Parallel(); wholeSession(t, name, m, walk, width) })
			}
		}
	}
}

// briefly is how long each interval is heard, s.
const briefly = 0.15

func wholeSession(t *testing.T, name string, m Method, hand walk, width int64) {
	r := newRig(t, shortOf(m), func(c *Config) { c.Clips, c.Settings.Listen = &synthetic{rate: 48000, frames: 24000}, briefly })
	ctx := newBrowser(t)
	fits := func(where string) {
		t.Helper()
		over := evaluate[[]string](t, ctx, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => e.tagName + "." + e.className)`)
		if len(over) > 0 {
			t.Errorf("%s: beyond %d px: %q", where, width, over)
		}
		picture(t, ctx, name+"-"+where)
	}
	do(t, ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(r.http.URL), until(`document.readyState === "complete"`))
	fits("start")
	do(t, ctx, hand.begin, until(`location.pathname === "/level" && document.readyState === "complete"`))
	fits("level")
	do(t, ctx, hand.level, until(`location.pathname === "/listen"`))
	one := hand.trial
	if m == Graded {
		one = hand.round
	}
	for n := 1; ; n++ {
		do(t, ctx, until(fmt.Sprintf(`location.pathname === "/over" && document.readyState === "complete" || document.getElementById("progress").textContent.match(/(rial|ound) %d of/) && !document.getElementById("task").textContent.includes("moment")`, n)))
		if over(t, ctx) {
			break
		}
		do(t, ctx, one...)
		if n == 1 {
			do(t, ctx, until(`["Next trial", "Go on"].includes(document.getElementById("mark").textContent)`))
			fits("practice")
			do(t, ctx, hand.onward)
		}
	}
	fits("over")
	v, trials := r.newest(t)
	if v.Finished.IsZero() || v.NoiseHeard == 0 || v.SPL == nil || v.Playback == nil {
		t.Errorf("session %+v", v)
	}
	for _, tr := range trials {
		if len(tr.Heard) != len(tr.Items) || slices.Min(tr.Heard) < briefly-heardSlack || tr.Switches < len(tr.Items)-1 {
			t.Errorf("trial %d: heard %v with %d switches", tr.Number, tr.Heard, tr.Switches)
		}
	}
}
