package live_test

import (
	"errors"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"quietcross/reports/live"
	"quietcross/stage"
)

// made is an engine in name only.
func made() fstest.MapFS {
	return fstest.MapFS{live.EngineFile: {Data: []byte("packed")}, live.SupportFile: {Data: []byte("// support: 1 < 2")}}
}

func page(t *testing.T, spec stage.Spec) string {
	t.Helper()
	var b strings.Builder
	if err := live.Write(&b, live.Options{Stage: spec, Engine: made()}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestNoEngine: a program without an engine refuses with what to do.
func TestNoEngine(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	err = live.Write(&b, live.Options{Stage: spec, Engine: fstest.MapFS{}})
	if !errors.Is(err, live.ErrNoEngine) || !strings.Contains(err.Error(), "make build") || b.Len() != 0 {
		t.Errorf("%v, after %d bytes", err, b.Len())
	}
}

// TestBeginsWith: a built-in stage is chosen by name, an edited one is in the page as a
// file, and no title breaks out of it.
func TestBeginsWith(t *testing.T) {
	spec, err := stage.Lookup("fet-30w")
	if err != nil {
		t.Fatal(err)
	}
	text := page(t, spec)
	for _, want := range []string{`<option value="fet-30w" selected>`, "// support: 1 < 2", "cGFja2Vk"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	spec.Title = `</script><img src=x onerror=alert(1)>`
	if text = page(t, spec); strings.Contains(text, "<img") || !strings.Contains(text, "circuit = ") || strings.Contains(text, `"fet-30w" selected`) {
		t.Error("the edited stage is not in the page as it should be")
	}
}

// TestAsksForNothing looks for addresses of the network in the page's own parts.
func TestAsksForNothing(t *testing.T) {
	entries, err := os.ReadDir("assets")
	if err != nil || len(entries) < 6 {
		t.Fatalf("%d parts: %v", len(entries), err)
	}
	for _, e := range entries {
		data, err := os.ReadFile("assets/" + e.Name())
		if err != nil {
			t.Fatal(err)
		}
		text := strings.ReplaceAll(string(data), "http://www.w3.org/2000/svg", "")
		for _, bad := range []string{"http:", "https:", "//cdn", "fetch(", "XMLHttpRequest", "eval("} {
			if strings.Contains(text, bad) {
				t.Errorf("%s holds %q", e.Name(), bad)
			}
		}
	}
}
