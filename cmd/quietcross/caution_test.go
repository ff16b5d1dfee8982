package main

import (
	"bytes"
	"html"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"quietcross/reports/view/caution"
)

// harmless are the commands that have nothing played and nobody work on a stage.
var harmless = []string{"stage list", "panel plan", "panel result", "panel forget", "completion"}

// endCommands returns the commands that do something, by name within the program: those
// without subcommands, and those with flags of their own.
func endCommands(commands []*cli.Command, within string) map[string]*cli.Command {
	found := map[string]*cli.Command{}
	for _, c := range commands {
		if len(c.Subcommands) == 0 || len(c.Flags) > 0 {
			found[within+c.Name] = c
		}
		maps.Copy(found, endCommands(c.Subcommands, within+c.Name+" "))
	}
	return found
}

// holdsCautions looks for every text, in order of the words, however wrapped.
func holdsCautions(t *testing.T, where, content string, texts []string) {
	t.Helper()
	content = strings.Join(strings.Fields(html.UnescapeString(content)), " ")
	for _, text := range texts {
		if !strings.Contains(content, text) {
			t.Errorf("%s: does not say %q", where, text)
		}
	}
}

// pageHolds looks for every text on a page, before the first player if it has one.
func pageHolds(t *testing.T, path string, texts []string) {
	t.Helper()
	page, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	holdsCautions(t, path, string(page), texts)
	body := html.UnescapeString(string(page[bytes.Index(page, []byte("<body")):]))
	for _, player := range []string{"<audio", `class="play"`, `data-scene=`} {
		if at := strings.Index(body, player); at >= 0 && !strings.Contains(body[:at], caution.Hearing) {
			t.Errorf("%s: a player stands above the caution on hearing", path)
		}
	}
}

// TestEveryCommandHasItsCautions asks each command for help. A new command is in one
// list or the other.
func TestEveryCommandHasItsCautions(t *testing.T) {
	commands := endCommands(newApp(nil, nil, false).Commands, "")
	for name, c := range commands {
		texts, ok := cautions[name]
		if ok == slices.Contains(harmless, name) {
			t.Errorf("%s: is in both lists or in none", name)
		}
		holdsCautions(t, name+" --help", c.Description, texts)
	}
	for name := range cautions {
		if commands[name] == nil {
			t.Errorf("%s: no such command", name)
		}
	}
	if len(commands) < 13 {
		t.Errorf("only %d commands seen", len(commands))
	}
}

// TestCautionsOnTerminalAndPage runs what is quick; the pages of fit, lesson and
// quiescent are looked at where they are made.
func TestCautionsOnTerminalAndPage(t *testing.T) {
	dir := t.TempDir()
	page := func(name string) string { return filepath.Join(dir, name) }
	tone := toneFile(t, "a.wav", 1, 0.5, 1)
	for _, c := range []struct {
		name, page string
		args       []string
	}{
		{"stage show", "", []string{"pair-12w"}},
		{"stage inspect", page("inspect.html"), []string{"--bias", "1.2V", "--page", page("inspect.html"), "pair-1w"}},
		{"material list", "", nil},
		{"material write", "", []string{page("m"), "tone"}},
		{"measure", page("measure.html"), []string{"--page", page("measure.html"), tone}},
		{"sweep", page("sweep.html"), []string{"--bias", "1.2V", "--level", "0,-20", "--frequency", "1kHz", "--page", page("sweep.html"), "pair-1w"}},
		{"render", page("set/report.html"), []string{"--bias", "1.2V", "--level", "0", "--out", page("set"), tone}},
	} {
		code, _, stderr := command(t, slices.Concat(strings.Fields(c.name), c.args)...)
		if code != exitDone {
			t.Fatalf("%s: %s", c.name, stderr)
		}
		holdsCautions(t, c.name, stderr, cautions[c.name])
		if c.page != "" {
			pageHolds(t, c.page, cautions[c.name])
		}
	}
	if _, _, stderr := command(t, "panel", "open", page("no such set")); strings.Index(stderr, "Caution:") != 0 {
		t.Errorf("panel open says %q, want the caution first", stderr)
	}
	if code, _, stderr := command(t, "stage", "inspect", "--json", "--bias", "1.2V", "pair-1w"); code != exitDone || stderr != "" {
		t.Errorf("a program is told %q", stderr)
	}
}

// TestReadMeCautions looks at the first page that is read.
func TestReadMeCautions(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	holdsCautions(t, "README.md", string(text), []string{
		"volume low", "exposure to sound", "tweeter", "dummy load", "current-limited supply", "from its minimum",
		"Heatsinks burn skin", "capacitors stay charged", "mains voltage kills", "local codes", "qualified people",
	})
}
