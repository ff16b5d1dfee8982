package report

import (
	"context"
	"math"
	"testing"

	"quietcross/reports/internal/browser"

	"github.com/chromedp/chromedp"
)

// The button goes to half a second before the moment that the report names, on
// the output of its rung, without starting to play.
func goesToTheWorst(t *testing.T, ctx context.Context, r *Report) {
	const rung = 2
	browser.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`players[0].pause(); players[0].select(0); players[0].seek(0)`),
		chromedp.Click(`#item-0 button.worst[data-track="5"]`))
	browser.Until(t, ctx, `players[0].track === 5`)
	item := &r.Items[0]
	want := item.Renderings[rung].Detection.When.Worst - float64(item.Excerpt.Start)/float64(item.Rate) - 0.5
	if want <= 0 {
		t.Fatalf("the worst moment of the sample lies too early: %g s", want)
	}
	if at := browser.Evaluate[float64](t, ctx, `players[0].position()`); math.Abs(at-want) > 1e-9 {
		t.Errorf("at %g s, want %g", at, want)
	}
	if browser.Evaluate[bool](t, ctx, `players[0].playing`) {
		t.Error("it started to play")
	}
	if n := browser.Evaluate[int](t, ctx, `document.querySelectorAll("#item-0 button.worst").length`); n != browserRungs {
		t.Errorf("%d buttons", n)
	}
}

// edges lists, for each spectrogram with a strip, the left and right ends of both
// plot areas on the screen. The colour bar's frame stands right of the area's.
const edges = `[...document.querySelectorAll("article.current .panels figure")].filter(figure => figure.querySelector(".strip")).map(figure => {
  const area = svg => [...svg.querySelectorAll(".frame")].map(e => e.getBoundingClientRect()).sort((a, b) => a.left - b.left)[0];
  return [...figure.querySelectorAll("svg.plot")].map(area).flatMap(box => [box.left, box.right]);
})`

// The time axes of spectrogram and strip have to stand over each other.
func aligned(t *testing.T, ctx context.Context) {
	for _, width := range []int64{400, 1280} {
		browser.Do(t, ctx, chromedp.EmulateViewport(width, 900))
		list := browser.Evaluate[[][]float64](t, ctx, edges)
		if len(list) == 0 {
			t.Fatal("no spectrograms")
		}
		for i, e := range list {
			if len(e) != 4 {
				t.Fatalf("figure %d has %d ends, want those of a spectrogram and a strip", i, len(e))
			}
			if e[1]-e[0] < 100 || math.Abs(e[0]-e[2]) > 0.5 || math.Abs(e[1]-e[3]) > 0.5 {
				t.Errorf("%d px, figure %d: spectrogram from %.1f to %.1f, strip from %.1f to %.1f", width, i, e[0], e[1], e[2], e[3])
			}
		}
	}
}

// One drawing of the circuit is shown at a time.
func choosesDrawing(t *testing.T, ctx context.Context) {
	shown := `[...document.querySelectorAll("[data-drawn]")].filter(e => getComputedStyle(e).display !== "none").map(e => e.dataset.drawn).join()`
	first := browser.Evaluate[string](t, ctx, shown)
	if len(first) != 1 {
		t.Fatalf("at first the drawings of rungs %q are shown", first)
	}
	other := map[bool]string{true: "1", false: "2"}[first == "2"]
	browser.Do(t, ctx, chromedp.Click(`[data-drawing="`+other+`"]`))
	browser.Until(t, ctx, shown+` === "`+other+`"`)
	if pressed := browser.Evaluate[string](t, ctx, `[...document.querySelectorAll("[data-drawing][aria-pressed=true]")].map(e => e.dataset.drawing).join()`); pressed != other {
		t.Errorf("buttons pressed: %s", pressed)
	}
}
