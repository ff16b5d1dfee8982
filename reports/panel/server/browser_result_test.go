package server

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// The result of a class prints on two sheets of A4, and fits a phone.
func TestResultPrintsOnTwoSheets(t *testing.T) {
	t.Parallel()
	s := simulated(t)
	rng := rand.New(rand.NewPCG(51, 0))
	short := quick(Defaults(Adaptive))
	short.Trials = 20
	for range 40 {
		simulate(t, s, short, listenerCurve(-48+4*rng.NormFloat64()), rng)
	}
	r, err := Evaluate(t.Context(), s, []Prediction{{Material: "Bowed chord", Stimulus: "4f1c", Residual: -52, Quiescent: 0.02, Bias: 1.18, Method: "ear model"}})
	must(t, err)
	var b bytes.Buffer
	must(t, r.WriteHTML(&b))
	path := filepath.Join(t.TempDir(), "result.html")
	must(t, os.WriteFile(path, b.Bytes(), 0o600))
	ctx := newBrowser(t)
	do(t, ctx, chromedp.Navigate("file://"+path))
	yes := true
	pdf, err := chromedp.Run(ctx, func(ctx context.Context, tab *chromedp.Target) (page.PrintToPDFResult, error) {
		return cdp.Call(ctx, tab, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: &yes, PrintBackground: &yes})
	})
	must(t, err)
	if n := bytes.Count(pdf.Data, []byte("/Type /Page\n")); n != 2 {
		t.Errorf("%d sheets", n)
	}
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	picture(t, ctx, "result-390")
	if wide := evaluate[bool](t, ctx, "document.documentElement.scrollWidth > 391"); wide {
		t.Error("the page is wider than a phone")
	}
}

// The result of a graded panel with its overview fits a phone and a screen.
func TestGradedResultPage(t *testing.T) {
	t.Parallel()
	r := newRig(t, Defaults(Multi), nil)
	for n := range 4 {
		r.run(t, r.listener(t, []string{"Bowed chord", "Plucked line"}[n%2], -45, uint64(n)))
	}
	predicted := []PredictedGrade{{0.0005, 1.2}, {0.005, 3.1}, {0.05, 5}}
	got, err := Evaluate(t.Context(), r.store, []Prediction{{Material: "Bowed chord", Stimulus: "of Bowed chord", Residual: math.NaN(), Method: "ear model", Grades: predicted}})
	must(t, err)
	var b bytes.Buffer
	must(t, got.WriteHTML(&b))
	path := filepath.Join(t.TempDir(), "result.html")
	must(t, os.WriteFile(path, b.Bytes(), 0o600))
	ctx := newBrowser(t)
	for _, width := range []int64{400, 1280} {
		do(t, ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate("file://"+path))
		if wide := evaluate[bool](t, ctx, "document.documentElement.scrollWidth > innerWidth + 1"); wide {
			t.Errorf("the page is wider than %d px", width)
		}
		picture(t, ctx, fmt.Sprintf("result-graded-%d", width))
	}
	if n := evaluate[int](t, ctx, `document.querySelectorAll(".overview circle.ear").length`); n != 10 {
		t.Errorf("%d grades in the overview", n)
	}
	if n := evaluate[int](t, ctx, `document.querySelectorAll(".overview .predicted").length`); n != 3 { // none without any current
		t.Errorf("%d predicted grades in the overview", n)
	}
}
