package report_test

import (
	"encoding/csv"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"quietcross/reports/report"
)

// fields collects the JSON names of a type and of all that it holds.
func fields(t reflect.Type, names map[string]bool) {
	switch {
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer:
		fields(t.Elem(), names)
		return
	case t.Kind() != reflect.Struct || t == reflect.TypeFor[time.Time]():
		return
	}
	for f := range t.Fields() {
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "-" || !f.IsExported() {
			continue
		}
		if name != "" {
			names[name] = true
		}
		fields(f.Type, names)
	}
}

// documented collects the first cells of the tables of SCHEMA.md.
func documented(t *testing.T) map[string]bool {
	t.Helper()
	text, err := os.ReadFile("SCHEMA.md")
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z0-9_]+)` \\| .{8,}").FindAllStringSubmatch(string(text), -1) {
		names[m[1]] = true
	}
	return names
}

func TestEveryFieldIsDocumented(t *testing.T) {
	want := map[string]bool{}
	fields(reflect.TypeFor[report.Report](), want)
	have := documented(t)
	for name := range want {
		if !have[name] {
			t.Errorf("SCHEMA.md does not document %s", name)
		}
	}
	columns := []string{"item", "track", "rung", "kind", "frequency_hz", "level_dbfs"}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		if !want[name] && !slices.Contains(columns, name) {
			t.Errorf("SCHEMA.md documents %s, which is not written", name)
		}
	}
}

func TestWrite(t *testing.T) {
	r, dir := built(t), t.TempDir()
	if err := r.Write(dir); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, report.ReportFile))
	if err != nil {
		t.Fatal(err)
	}
	// People read the file too: a list of numbers is one line.
	if lines := strings.Count(string(data), "\n"); lines > 4000 {
		t.Errorf("%d lines", lines)
	}
	if !regexp.MustCompile(`"in_v": \[-[0-9.e-]+,-[0-9.e-]+,`).Match(data) {
		t.Error("curves are not on one line")
	}
	var back report.Report
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	if back.Schema != report.SchemaVersion || len(back.Items) != 2 {
		t.Errorf("schema %d, %d items", back.Schema, len(back.Items))
	}
	h, want := back.Items[0].Renderings[0].Harmonics, r.Items[0].Renderings[0].Harmonics
	if !reflect.DeepEqual(h, want) {
		t.Errorf("harmonics came back as %+v, want %+v", h, want)
	}
	if back.Items[0].Source.Name != r.Items[0].Source.Name {
		t.Errorf("source came back as %q", back.Items[0].Source.Name)
	}
}

func TestSpectraTable(t *testing.T) {
	r, dir := built(t), t.TempDir()
	if err := r.Write(dir); err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(filepath.Join(dir, report.SpectraFile))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(lines[0], " "); got != "item track rung kind frequency_hz level_dbfs" {
		t.Errorf("header %q", got)
	}
	count := map[string]int{}
	for _, line := range lines[1:] {
		count[line[1]+" "+line[3]]++
	}
	bands := len(r.Items[0].Bands)
	for name, want := range map[string]int{
		"reference third-octave": 2 * bands, "residual third-octave": 2 * bands * rungs,
		"reference peak": len(r.Items[0].Spectrum.Level), "rendering peak": rungs * len(r.Items[0].Spectrum.Level),
	} {
		if count[name] != want {
			t.Errorf("%d lines of %s, want %d", count[name], name, want)
		}
	}
}
