package schematic

import (
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quietcross/stage"
)

//go:generate go test . -run "TestPictures|TestFigures" -update

var update = flag.Bool("update", false, "rewrite the pictures and figures of the circuits' documents")

// circuitsFolder holds the documents that the pictures belong to.
const circuitsFolder = "../../../stage/circuits"

// TestPictures holds the pictures of the circuits' documents, every built-in stage
// as built, against what is drawn now.
func TestPictures(t *testing.T) {
	want := []string{}
	for _, b := range stage.Builtin() {
		spec, err := stage.Lookup(b.Name)
		if err != nil {
			t.Fatal(err)
		}
		picture, err := pictured(t, spec, stage.AsBuilt()).Document()
		if err != nil {
			t.Fatal(err)
		}
		golden(t, filepath.Join(circuitsFolder, "pictures", b.Name+".svg"), picture)
		want = append(want, b.Name+".svg")
	}
	files, err := filepath.Glob(filepath.Join(circuitsFolder, "pictures", "*.svg"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		if !slices.Contains(want, filepath.Base(file)) {
			t.Errorf("%s is the picture of no built-in stage", file)
		}
	}
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got == string(want) {
		return
	}
	at := filepath.Join(t.ArtifactDir(), filepath.Base(path)+".got")
	if err := os.WriteFile(at, []byte(got), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Errorf("%s is not what is drawn now; look at both, then run go generate ./reports/schematic", path)
}

// TestFigures holds the tables of figures in the circuits' documents against what
// the stages solve to now, and every built-in stage to have its picture and its
// table there.
func TestFigures(t *testing.T) {
	path := filepath.Join(circuitsFolder, "README.md")
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	after := string(before)
	for _, b := range stage.Builtin() {
		if !strings.Contains(after, "](pictures/"+b.Name+".svg)") {
			t.Errorf("%s: no picture of %s", path, b.Name)
		}
		head, rest, found := strings.Cut(after, "<!-- quietcross stage inspect "+b.Name+" -->\n")
		_, tail, closed := strings.Cut(rest, "<!-- end -->")
		if !found || !closed {
			t.Errorf("%s: no table of figures of %s", path, b.Name)
			continue
		}
		after = head + "<!-- quietcross stage inspect " + b.Name + " -->\n" + figures(t, b.Name) + "<!-- end -->" + tail
	}
	golden(t, path, after)
}
