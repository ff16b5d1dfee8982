package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// tiers are the top-level folders in the order in which imports may run: a
// folder imports only those of a later tier, or itself. stage and dsp share
// the last one and never import each other, but for leaves.
var tiers = []string{"cmd", "reports", "corpus", "stage dsp"}

// viewFolder holds what draws: it knows no question.
const viewFolder = "reports/view/"

// leaves are packages of plain arithmetic that every folder may import. They import
// nothing of the module.
var leaves = []string{"dsp/bracket", "dsp/elementary"}

// TestImportsRunOneWay parses every file's imports in-process: a test that
// asked the go command would stay green from its cache.
func TestImportsRunOneWay(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := 0
	err := filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := entry.Name()
		if entry.IsDir() && path != root && (strings.HasPrefix(name, ".") && name != ".." || name == "testdata") {
			return filepath.SkipDir
		}
		if entry.IsDir() || !strings.HasSuffix(name, ".go") {
			return nil
		}
		seen++
		file, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		imports, err := importsOf(path)
		if err != nil {
			return err
		}
		for _, imported := range imports {
			if !allowed(filepath.ToSlash(file), imported) {
				t.Errorf("%s must not import %s", file, imported)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 50 {
		t.Fatalf("only %d files seen: the walk is broken", seen)
	}
}

func importsOf(path string) ([]string, error) {
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
	if err != nil {
		return nil, err
	}
	var paths []string
	for _, spec := range file.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			return nil, err
		}
		paths = append(paths, p)
	}
	return paths, nil
}

// allowed tells whether a file of the module may import a package.
func allowed(file, imported string) bool {
	inside, ok := strings.CutPrefix(imported, "quietcross/")
	if !ok {
		return true
	}
	if strings.HasPrefix(file, viewFolder) && strings.HasPrefix(inside, "reports/") && !strings.HasPrefix(inside, viewFolder) {
		return false
	}
	if slices.Contains(leaves, path.Dir(file)) {
		return false
	}
	if slices.Contains(leaves, inside) {
		return true
	}
	from, _, _ := strings.Cut(file, "/")
	to, _, _ := strings.Cut(inside, "/")
	return from == to || tier(from) < tier(to)
}

func tier(folder string) int {
	return slices.IndexFunc(tiers, func(names string) bool {
		return slices.Contains(strings.Fields(names), folder)
	})
}

func TestAllowedKnowsForbiddenArrows(t *testing.T) {
	for _, c := range []struct {
		file, imported string
		want           bool
	}{
		{"cmd/quietcross/main.go", "quietcross/stage", true},
		{"corpus/render/pass.go", "quietcross/dsp/wave", true},
		{"dsp/shape/law.go", "quietcross/dsp/resample", true},
		{"stage/spec.go", "quietcross/dsp/level", false},
		{"stage/trim.go", "quietcross/dsp/bracket", true},
		{"dsp/bracket/bracket.go", "quietcross/dsp/level", false},
		{"dsp/level/db.go", "quietcross/stage", false},
		{"corpus/set.go", "quietcross/reports", false},
		{"reports/sweep/page.go", "quietcross/cmd/quietcross", false},
		{"reports/sweep/page.go", "quietcross/reports/view/plot", true},
		{"reports/view/sheet/sheet.go", "quietcross/reports/view/plot", true},
		{"reports/view/plot/plot.go", "quietcross/reports/sweep", false},
		{"stage/spec.go", "github.com/pelletier/go-toml/v2", true},
	} {
		if got := allowed(c.file, c.imported); got != c.want {
			t.Errorf("allowed(%q, %q) = %v", c.file, c.imported, got)
		}
	}
}
