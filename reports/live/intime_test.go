package live_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"quietcross/corpus/render"
	"quietcross/reports/internal/browser"
	"quietcross/stage"
)

// useStage chooses a built-in stage in the page and waits until it is solved; of one that is
// there already it waits for the new sheet too, or what is set next would be undone by it.
func useStage(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	browser.Evaluate[bool](t, ctx, `state.sheet = {...state.sheet, name: ""}, byId("stage").value = "`+name+`", byId("stage").dispatchEvent(new Event("change")), true`)
	browser.Until(t, ctx, `state.sheet.name === "`+name+`" && !changing && solution.rung`)
}

// followsInTime: of a circuit with memory the page plays the law at first, tries to follow
// the circuit in time, and says what came of it: that depends on the machine. A bias that
// moves goes back to the law at once.
func followsInTime(t *testing.T, ctx context.Context) {
	useStage(t, ctx, "pair-12w-speaker")
	browser.Evaluate[bool](t, ctx, `document.activeElement.blur(), state.paused`)
	if browser.Evaluate[bool](t, ctx, `state.paused`) {
		browser.Do(t, ctx, chromedp.KeyEvent(" "))
	}
	browser.Until(t, ctx, `!state.paused && view && (["playing", "slow"].includes(view.followed.state) || byId("status").textContent.includes("left gaps"))`)
	said := browser.Evaluate[[]string](t, ctx, `[byId("way").textContent, byId("pace").textContent, byId("status").textContent, byId("command").textContent]`)
	t.Logf("%q", said[:3])
	if (said[0] == "Played in time.") != strings.Contains(said[3], fmt.Sprintf("--solver dynamic --oversample %d", render.DynamicOversample)) {
		t.Errorf("it says %q", said)
	}
	browser.Evaluate[bool](t, ctx, `byId("bias").value = Number(byId("bias").value) - 100, byId("bias").dispatchEvent(new Event("input")), true`)
	browser.Until(t, ctx, `byId("way").textContent.includes("midband law")`)
	browser.Evaluate[bool](t, ctx, `byId("in-time").checked = true, byId("in-time").click(), true`)
	browser.Until(t, ctx, `view.followed.state === "" && byId("pace").textContent === "Now the law plays."`)
	browser.Evaluate[bool](t, ctx, `byId("in-time").click(), pause().then(() => true)`)
}

// likeCommandInTime holds what the page's engine makes of a file in time to what the
// command makes of it.
func likeCommandInTime(t *testing.T, ctx context.Context) {
	// One second, of which steps are split by their last digits.
	source, output := rendered(t, 1, "pair-12w-speaker", stage.Quiescent(0.012), -6, render.SolverDynamic)
	useStage(t, ctx, "pair-12w-speaker")
	browser.Do(t, ctx, chromedp.SetUploadFiles("#file", []string{source}))
	browser.Until(t, ctx, `state.source.name === "source.wav" && state.loaded && !state.busy`)
	browser.Evaluate[bool](t, ctx, `(() => {
		const set = (id, value) => { byId(id).value = value; byId(id).dispatchEvent(new Event("input")); };
		for (const id of ["turn-up", "match"]) if (byId(id).checked) byId(id).click();
		set("level", -6);
		set("bias-number", 12);
		return true;
	})()`)
	browser.Until(t, ctx, `!changing && circuit && solution.rung && Math.abs(solution.quiescent - 0.012) < 1e-9`)
	text := browser.Evaluate[string](t, ctx, `(async () => {
		window.seen = view; // null where nothing has played yet
		view = {input: 0, peak: 0, ...view, followed: {state: "playing", pace: 0}}; // whatever this machine's pace
		let text = "";
		for (const b of await recorded()) text += String.fromCharCode(b);
		return btoa(text);
	})()`)
	sameSound(t, kept(t, text), output)
	browser.Evaluate[bool](t, ctx, `(() => { view = window.seen; for (const id of ["turn-up", "match"]) byId(id).click(); return true; })()`)
}
