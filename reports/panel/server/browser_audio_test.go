package server

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// offline renders the page's own deck and compares every sample with what
// sample-synchronous switching must give: before, between and after the
// crossfades exactly the sample of the chosen interval at that instant of the
// loop, within a crossfade the linear mixture of the two. The deviations come
// back in full scale.
const offline = `(async () => {
	const rate = 48000, frames = 4800, total = 24000;
	const context = new OfflineAudioContext(1, total, rate);
	const sounds = [0, 1, 2].map((k) => {
		const x = new Float32Array(frames);
		for (let i = 0; i < frames; i++) x[i] = Math.sin(0.37 * i * (k + 1)) * 0.5 + 0.1 * k;
		return x;
	});
	const buffers = sounds.map((x) => panelAudio.stretch(context, rate, [x], 0, frames));
	const loops = buffers.map((b) => b.getChannelData(0));
	const deck = new panelAudio.Deck(context, buffers);
	const changes = [[0, 0], [1, 6000], [2, 12000], [0, 12480], [1, 18000]];
	deck.start(0, 0, 0);
	for (const [k, at] of changes.slice(1)) deck.select(k, at / rate);
	const out = (await context.startRendering()).getChannelData(0);
	const fade = panelAudio.crossfade * rate;
	const gains = [1, 0, 0];
	let from = [1, 0, 0], to = [1, 0, 0], since = -1e9, pure = 0, mixed = 0, next = 1, counted = 0;
	for (let n = 0; n < total; n++) {
		if (next < changes.length && n === changes[next][1]) {
			from = gains.slice(); to = [0, 1, 2].map((k) => k === changes[next][0] ? 1 : 0); since = n; next++;
		}
		const part = Math.min((n - since) / fade, 1);
		let want = 0;
		for (let k = 0; k < 3; k++) { gains[k] = from[k] + part * (to[k] - from[k]); want += gains[k] * loops[k][n % frames]; }
		want *= Math.min(n / fade, 1);
		const error = Math.abs(out[n] - want);
		if (part === 1 && n > fade) { pure = Math.max(pure, error); counted++; } else mixed = Math.max(mixed, error);
	}
	return { Pure: pure, Mixed: mixed, Counted: counted, Soft: Math.max(Math.abs(loops[0][0]), Math.abs(loops[2][frames - 1])) };
})()`

// evaluate returns the value of an expression, awaited when it is a promise.
func evaluate[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// One page and one trial serve both looks at what it plays.
func TestPagePlays(t *testing.T) {
	t.Parallel()
	r := browserRig(t, shortSession())
	ctx := newBrowser(t)
	begin(t, ctx, r.http.URL)
	do(t, ctx, ready("1"))
	t.Run("switching is sample-synchronous", func(t *testing.T) { switches(t, ctx) })
	t.Run("clips are those of the rendering", func(t *testing.T) { decodes(t, ctx, r) })
}

func switches(t *testing.T, ctx context.Context) {
	got := evaluate[struct{ Pure, Mixed, Counted, Soft float64 }](t, ctx, offline)
	t.Logf("outside crossfades %.2g, within %.2g of full scale, %g samples", got.Pure, got.Mixed, got.Counted)
	if got.Pure > 1e-6 || got.Counted < 15000 {
		t.Errorf("outside a crossfade the output is off by %g", got.Pure)
	}
	// A browser may take the start of a ramp to its next sample: one step of the
	// crossfade's 960, of two voices under 0.75.
	if got.Mixed > 1.5/960 {
		t.Errorf("within a crossfade the output is off by %g", got.Mixed)
	}
	if got.Soft > 1e-3 {
		t.Errorf("the ends of a stretch are at %g", got.Soft)
	}
}

// click presses an element as a mouse does.
func click(selector string) action {
	return func(ctx context.Context, page *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Evaluate[chromedp.Void]("document.querySelector(`"+selector+"`).click()")(ctx, page)
	}
}

// begin walks from the start page to the first trial.
func begin(t *testing.T, ctx context.Context, base string) {
	t.Helper()
	do(t, ctx, chromedp.Navigate(base), agree, setLevel)
}

// agree begins on the start page.
func agree(ctx context.Context, page *chromedp.Target) (chromedp.Void, error) {
	return chromedp.Steps(click(`input[name=consent]`), click(`form[action="/begin"] button`))(ctx, page)
}

// chooseVoice says that the level was matched to a voice.
func chooseVoice(ctx context.Context, page *chromedp.Target) (chromedp.Void, error) {
	return chromedp.Evaluate[chromedp.Void](`document.getElementById("how").value = "voice:raised"`)(ctx, page)
}

// mouse presses an element with the mouse at its place, which a browser takes for a
// gesture and lets sound follow.
func mouse(selector string) action { return mouseAt(selector, 0.5) }

// mouseAt presses an element at a share of its width.
func mouseAt(selector string, share float64) action {
	return func(ctx context.Context, page *chromedp.Target) (v chromedp.Void, err error) {
		at, err := placeIn(ctx, page, selector, share)
		if err != nil {
			return v, err
		}
		for _, kind := range []input.DispatchMouseEventType{input.DispatchMouseEventTypeMousePressed, input.DispatchMouseEventTypeMouseReleased} {
			if _, err := cdp.Call(ctx, page, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: at.X, Y: at.Y, Button: input.MouseButtonLeft, ClickCount: 1}); err != nil {
				return v, err
			}
		}
		return v, nil
	}
}

// setLevel plays the noise and matches it to a voice.
func setLevel(ctx context.Context, page *chromedp.Target) (chromedp.Void, error) {
	return chromedp.Steps(until(`location.pathname === "/level" && document.readyState === "complete"`),
		mouse(`#noise`), until(goOn), chooseVoice, click(`input[name=read]`), click(`#go`), until(`location.pathname === "/listen"`))(ctx, page)
}

// decodes: the samples that arrive in the page are those of the rendering, at the clips'
// own rate.
func decodes(t *testing.T, ctx context.Context, r *rig) {
	_, trials := r.newest(t)
	item := trials[0].Items[0]
	got := evaluate[[]float64](t, ctx, fmt.Sprintf(`fetch("/clip/%s").then((r) => r.arrayBuffer()).then((b) => [...panelAudio.planar(b, 2, 48000)[1].slice(5000, 5100)])`, item.Token))
	want, _, _ := browserClips().Rendering("Bowed chord", item.Rung.Quiescent)
	if item.Role == Reference {
		_, want, _ = browserClips().Reference("Bowed chord")
	}
	gain := r.server.level.gain.Amplitude()
	for i, x := range got {
		if d := x - want[1][5000+i]*gain; d > 3e-7 || d < -3e-7 {
			t.Fatalf("sample %d is off by %g", i, d)
		}
	}
}

// A page whose server is killed in the middle of a trial says that the answer
// is not saved yet, sends it when the server is back, and goes on.
func TestPageOutlivesAKilledServer(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "panel.sqlite")
	s := startChild(t, path, "127.0.0.1:0")
	ctx := newBrowser(t)
	begin(t, ctx, "http://"+s.address)
	do(t, ctx, ready("1"), press("1", "2", "3"), until(`!document.getElementById("mark").disabled`))
	s.kill()
	do(t, ctx, press(kb.Enter, kb.Enter), until(status+`.includes("Not saved yet")`))
	s = startChild(t, path, s.address)
	do(t, ctx, until(answerShown))
	// And a page that is opened anew finds its place.
	do(t, ctx, press(kb.Enter), ready("2"))
	s.kill()
	s = startChild(t, path, s.address)
	do(t, ctx, chromedp.Navigate("http://"+s.address), click(`form[action="/level"] button`), setLevel, ready("2"))
	s.kill()
	store := openStore(t, path)
	sessions, err := store.Sessions(t.Context())
	if err != nil || len(sessions) != 1 {
		t.Fatal(len(sessions), err)
	}
	trials, err := store.Trials(t.Context(), sessions[0].ID)
	if err != nil || len(trials) != 2 || trials[0].Choice != 3 || !trials[1].Open() {
		t.Errorf("%+v %v", trials, err)
	}
}

func TestTwoListenersAtOnce(t *testing.T) {
	t.Parallel()
	r := browserRig(t, shortSession())
	first, second := newBrowser(t), newBrowser(t)
	begin(t, first, r.http.URL)
	begin(t, second, r.http.URL)
	for n := range 3 {
		number := string(rune('1' + n))
		do(t, first, ready(number), press("2", "3", "1"), until(`!document.getElementById("mark").disabled`), press(kb.Enter, kb.Enter))
		do(t, second, ready(number), press("1", "3", "2"), until(`!document.getElementById("mark").disabled`), press(kb.Enter, kb.Enter))
		if n == 0 {
			do(t, first, until(answerShown), press(kb.Enter))
			do(t, second, until(answerShown), press(kb.Enter))
		}
	}
	do(t, first, ready("4"))
	do(t, second, ready("4"))
	sessions, err := r.store.Sessions(t.Context())
	if err != nil || len(sessions) != 2 {
		t.Fatal(len(sessions), err)
	}
	for i, v := range sessions {
		trials, err := r.store.Trials(t.Context(), v.ID)
		if err != nil || len(trials) != 4 {
			t.Fatal(len(trials), err)
		}
		for _, tr := range trials[:3] {
			if tr.Choice != i+1 {
				t.Errorf("listener %d, trial %d: %d", i+1, tr.Number, tr.Choice)
			}
		}
	}
}
