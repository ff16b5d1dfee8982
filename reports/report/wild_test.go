package report

import (
	"encoding/json"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"quietcross/reports/internal/sample"

	"quietcross/corpus"
)

// A manifest is user data: with any one of its numbers out of all reason,
// building and drawing may refuse it but not panic.
func TestWildNumbersDoNotPanic(t *testing.T) {
	dir := t.TempDir()
	if err := sample.Write(dir, sample.Options{Tones: 1, Programmes: 1, Rungs: 1, Seconds: 0.05, Rate: 48000}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, corpus.ManifestFile)
	var manifest any
	if err := json.Unmarshal([]byte(read(t, path)), &manifest); err != nil {
		t.Fatal(err)
	}
	tried, built := 0, 0
	visit(manifest, func() {
		tried++
		text, err := json.Marshal(manifest)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		defer func() {
			if p := recover(); p != nil {
				t.Errorf("%v with %s", p, text)
			}
		}()
		r, err := Build(dir)
		if err != nil {
			return
		}
		built++
		if err := render(io.Discard, r); err != nil {
			t.Error(err)
		}
	})
	if tried < 130 || built < tried/3 {
		t.Errorf("%d manifests tried, %d of them built: the case tries too little", tried, built)
	}
}

// visit replaces each number below v by each of some wild ones in turn, calls
// try, and puts it back.
func visit(v any, try func()) {
	wild := []any{-1.0, 1e300, nil}
	each := func(get func() any, set func(any)) {
		if before, ok := get().(float64); ok {
			for _, w := range wild {
				set(w)
				try()
			}
			set(before)
			return
		}
		visit(get(), try)
	}
	switch v := v.(type) {
	case map[string]any:
		for _, key := range slices.Sorted(maps.Keys(v)) {
			each(func() any { return v[key] }, func(w any) { v[key] = w })
		}
	case []any:
		for i := range v {
			each(func() any { return v[i] }, func(w any) { v[i] = w })
		}
	}
}
